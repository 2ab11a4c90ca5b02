"""How much a page says at once: words that are rendered of <main>, and links a keeper meets."""

# What lies in a closed <details> is not rendered; a number on an axis is no word.
WORDS = """document.querySelector('main').innerText.split(/\\s+/)
    .filter((word) => /\\p{L}{2}/u.test(word)).length"""
LINKS = """[...document.querySelectorAll('main a')]
    .filter((link) => !link.closest('details:not([open])')).length"""


def words_shown(page):
    return page.evaluate(WORDS)


def links_shown(page):
    return page.evaluate(LINKS)
