"""Photo files go with their rows: whatever deletes a Photo, and never before it is gone."""

from django.db import transaction


def delete_files_of(*, instance, **more):
    """Delete a Photo's files once the transaction that deletes its row has ended well."""
    files = [instance.image, instance.thumbnail]

    def delete_files():
        for file in files:
            if file:
                file.storage.delete(file.name)

    transaction.on_commit(delete_files)
