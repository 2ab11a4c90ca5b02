"""Makes the files of this folder: `python -m tests.data.imports.make_files`. All are invented.

What each is to become stands in `expected.csv`: taken, asked or refused, how many lines or entries
are good and bad, and a piece of the sentence.
"""

import datetime as dt
from pathlib import Path

from tests.photics.photometric_files import ies_text, lobe
from tests.workbooks import Formula, Percent, Wrong, ods_bytes, packed, xlsx_bytes

HERE = Path(__file__).parent
DAY = dt.date(2026, 3, 1)
NOON = dt.datetime(2026, 3, 1, 12)
GRID = ["x", "y", "depth", "PAR"]
READINGS = [[10, 8, 5, 180], [20, 8, 5, 190], [30, 8, 5, 200]]
LIGHT = [[NOON + dt.timedelta(minutes=10 * k), 100 + k] for k in range(4)]
WATER = ["date", "kind", "value", "unit"]
LONG_DAYS = [DAY - dt.timedelta(days=k) for k in range(4)]
IES = ies_text(lobe, vertical=(0, 22.5, 45, 67.5, 90))
HEAD, TILT, BODY = IES.partition("TILT=NONE\n")


def level(horizontal, **how):
    return ies_text(lobe, vertical=(0, 45, 90), horizontal=horizontal, **how)


SURVEYS = {
    "plain.csv": "x,y,depth,par\n10,8,5,180\n20,8,5,190\n",
    "decimal_commas.csv": "x;y;depth;PAR\n10,5;8;5;180,5\n20;8;5;190\n",
    "sign_line.csv": "sep=;\nx;y;depth;PAR\n10;8;5;180\n",
    "remarks.csv": "# club meter\nx;y;depth;PAR\n// left half\n10;8;5;180\n",
    "ranges.csv": "x;y;depth;PAR\n10;8;5;200-220\n20;8;5;212±5\n30;8;5;1-2-3\n",
    "missing.csv": "x;y;depth;PAR\n10;8;5;n/a\n20;8;5;190\n",
    "inches.csv": "x (in);y (in);depth (in);PAR\n4;3;2;180\n8 1/2;3;2;190\n",
    "days.csv": "date;x;y;depth;PAR\n2026-03-01;10;8;5;180\n2026-03-14;10;8;5;200\n",
    "one_day.csv": "date;x;y;depth;PAR\n2026-03-01;10;8;5;180\n2026-03-01;20;8;5;200\n",
    "grid_by_depth.csv": "5 cm deep\n;10;30\n8;180;190\n24;200;210\n\n"
    "20 cm deep\n;10;30\n8;90;95\n",
    "two_lights.csv": "x;y;depth;PAR left;PAR right\n10;8;5;180;90\n",
    "no_depth.csv": "x;y;PAR\n10;8;180\n",
    "outside.csv": "x;y;depth;PAR\n10;8;500;180\n10;8;5;180\n",
    "empty.csv": "\n;;;\n",
    "utf16.csv": "x\ty\tdepth\tPAR\n10\t8\t5\t180\n".encode("utf-16"),
    "picture.csv": b"\x89PNG\r\n\x1a\n\x00\x00",
    "utf16_quoted.csv": '"x (cm)";"y (cm)";"depth (cm)";"PAR (µmol/m²/s)"\r\n'
    "10,5;8;5;180,5\r\n".encode("utf-16"),
    "utf16_unmarked.csv": "x;y;depth;PAR\r\n10,5;8;5;180,5\r\n".encode("utf-16-be"),
    "carriage_returns.csv": "x;y;depth;PAR\r10;8;5;180\r20;8;5;190\r",
    "thousands.csv": 'x,y,depth,PAR\n10,8,5,"1,250"\n20,8,5,"980"\n',
    "thousands_parted.csv": "x;y;depth;PAR\n10;8;5;1 250\n20;8;5;1'120\n",
    "about.csv": "x;y;depth;PAR\n10;8;5;<5\n20;8;5;~210\n30;8;5;200\n",
    "units_in_cells.csv": "x;y;depth;PAR\n10 cm;8 cm;5 cm;180 µmol\n20cm;80mm;5cm;190\n",
    "average_below.csv": "x;y;depth;PAR\n10;8;5;180\n20;8;5;190\nAverage;;;185\n",
    "merged_depths.xlsx": xlsx_bytes(
        ("S", [["depth", "x", "y", "PAR"], [5, 10, 8, 180], [None, 20, 8, 190]]), merged=["A2:A3"]
    ),
    "titles.xlsx": xlsx_bytes(
        ("S", [["My reef"], ["Meter: mine", None, "lamp 70 %"], [], GRID, *READINGS]),
        merged=["A1:D1"],
    ),
    "second_sheet_empty.xlsx": xlsx_bytes(("Readings", [GRID, *READINGS]), ("Sheet2", [])),
    "first_sheet_empty.xlsx": xlsx_bytes(("Sheet1", []), ("Readings", [GRID, *READINGS])),
    "sheet.xlsx": xlsx_bytes(("Readings", [GRID, *READINGS])),
    "sheet.ods": ods_bytes(("Readings", [["Left half"], GRID, *READINGS])),
    "formulas.xlsx": xlsx_bytes(("S", [GRID, [10, 8, 5, Formula("9*20", 180.0)]])),
    "errors.xlsx": xlsx_bytes(("S", [GRID, [10, 8, 5, Wrong("#N/A")], *READINGS])),
    "damaged.xlsx": xlsx_bytes(("S", [GRID, *READINGS]))[:-120],
    "letter.docx": packed({"word/document.xml": "<w/>"}),
    "locked.xls": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(64),
}
WATER_LOGS = {
    "plain.csv": "date;kind;value;unit\n2026-03-01;alkalinity;8,2;dKH\n2026-03-02 21:30;pest;;\n",
    "clock_12h.csv": "date;time;kind;value;unit\n3/13/2026;9:30 PM;alkalinity;8.2;dKH\n",
    "month_names.csv": "date;kind;value;unit\n1-Mar-26;alkalinity;8.2;dKH\n",
    "unsure_dates.csv": "date;kind;value;unit\n3/4/2026;alkalinity;8.2;dKH\n",
    "mixed_orders.csv": "date;kind\n13/3/2026;pest\n3/14/2026;pest\n",
    "unknown_kind.csv": "date;kind\n2026-03-01;moonbeams\n2026-03-02;pest\n",
    "future.csv": "date;kind\n2999-03-01;pest\n2026-03-02;pest\n",
    "serial_days.csv": "date;kind;value;unit\n46082;alkalinity;8,2;dKH\n46083,5;pest;;\n",
    "about.csv": "date;kind;value;unit\n2026-03-01;phosphate;<0,02;mg/L\n"
    "2026-03-02;nitrate;~5;mg/L\n2026-03-02;calcium;420-430;mg/L\n",
    "thousands.csv": 'date,kind,value,unit\n2026-03-01,magnesium,"1,350",mg/L\n'
    "2026-03-02,calcium,420,mg/L\n",
    "two_units.csv": "date;kind;value;unit\n2026-03-01;alkalinity;8,2 dKH;meq/L\n"
    "2026-03-02;alkalinity;8,2 dKH;dKH\n",
    "heated_words.csv": "2026-01-01;temperature;25.1;C;new heater\n"
    "2026-01-02;temperature;26.0;C;warm outside\n"
    "2026-01-03;temperature;27.5;C;hottest day so far\n",
    "a_column_each.csv": "date;KH;Ca;NO3;Temp\n2026-03-01;8,2;420;5;25,5\n",
    "titles.xlsx": xlsx_bytes(
        ("W", [["Water log 2026"], [], WATER, [DAY, "alkalinity", 8.2, "dKH"]]), merged=["A1:D1"]
    ),
    "carriage_returns.csv": "date;kind;value;unit\r2026-03-01;alkalinity;8,2;dKH\r",
    "sheet.xlsx": xlsx_bytes(("W", [WATER, *([d, "alkalinity", 8.2, "dKH"] for d in LONG_DAYS)])),
    "sheet.ods": ods_bytes(("W", [WATER, [NOON, "temperature", 25.5, "°C"]])),
}
HISTORIES = {
    "a_row_a_note.csv": "date;coral;seen;note\n2026-03-01;Green branching;rtn;from the base\n"
    "2026-03-02;green BRANCHING;good;\n",
    "a_row_a_day.csv": "Date;Alk (dKH);Temp °C;Light %;Green branching\n1.3.2026;8.2;25;60;good\n"
    "2.3.2026;8.3;25.5;75;pale\n",
    "cells_over_lines.csv": "date,coral,note\n"
    '2026-03-01,Green branching,"pale today\nand closed"\n',
    "spots_and_sizes.csv": "date;coral;x;y;depth;size (cm)\n2026-03-01;Green branching;10;10;10;7\n"
    "2026-03-09;Green branching;10;10;10;8\n",
    "unknown_coral.csv": "date;coral;seen\n2026-03-01;Red plate;pale\n",
    "unknown_word.csv": "date;coral;seen\n2026-03-01;Green branching;zapped\n",
    "own_scale.csv": "date;coral;condition\n2026-03-01;Green branching;3\n",
    "unsure_dates.csv": "date;coral;seen\n3/4/2026;Green branching;pale\n",
    "no_date.csv": "coral;seen\nGreen branching;pale\n",
    "before_it_came.csv": "date;coral;seen\n2020-03-01;Green branching;pale\n",
    "serial_days.csv": "Date;Alk (dKH);Green branching\n46082;8,2;good\n46083;8,3;pale\n",
    "percent.ods": ods_bytes(
        ("Log", [["Date", "Light %"], [LONG_DAYS[1], Percent(0.6)], [DAY, Percent(0.75)]])
    ),
    "utf16_quoted.csv": '"Date";"Alk (dKH)";"Temp (°C)"\r\n01.03.2026;8,2;25,5\r\n'.encode(
        "utf-16"
    ),
    "about.csv": "Date;PO4 (mg/l);NO3\n2026-03-01;<0,02;~5\n2026-03-02;0,03;n.d.\n",
    "thousands.csv": 'Date,Mg (mg/l),Ca\n2026-03-01,"1,350",420\n2026-03-02,1 340,415\n',
    "units_below.csv": "Date;Alk;Temp\n;dKH;°C\n2026-03-01;8,2;25\n",
    "named_days.csv": "Date;Alk (dKH)\nSun 1 Mar 2026;8,2\nMon, 2 March 2026;8,3\n",
    "merged_days.csv": "Date;Coral;Seen\n2026-03-01;Green branching;pale\n;Green branching;rtn\n",
    "bad_lines.csv": "date;Temp °C\n2026-03-01;25\nsomeday;25\n2026-03-03;warm\n",
    "sheet.xlsx": xlsx_bytes(
        ("Log", [["My tank"], ["Date", "Calcium", "Green branching"], [DAY, 420, "pale tips"]])
    ),
    "sheet.ods": ods_bytes(("Log", [["Date", "pH", "Notes"], [DAY, 8.1, "water change 20 %"]])),
    "empty.xlsx": xlsx_bytes(("Log", [])),
}
LOGGERS = {
    "plain.csv": "time;PAR\n2026-03-01 12:00;100\n2026-03-01 12:10;101\n",
    "clock_12h.csv": "time,PAR\n3/14/2026 2:30 PM,100\n3/14/2026 2:40 PM,101\n",
    "short_years.csv": "14/03/26 14:30;100\n14/03/26 14:40;101\n",
    "unix.csv": "unix,PAR\n1772372400,100\n1772373000,101\n",
    "index_and_temperature.csv": "#,Date Time,Temp,PAR\n1,2026-03-01 12:00,25,100\n"
    "2,2026-03-01 12:10,25,101\n",
    "two_columns.csv": "2026-03-01 12:00;25;100\n2026-03-01 12:10;25.5;101\n",
    "unsure_dates.csv": "3/4/2026 12:00;100\n3/4/2026 12:10;101\n",
    "slipped_year.csv": "1990-03-01 12:00;100\n2026-03-01 12:10;101\n",
    "sheet.xlsx": xlsx_bytes(("L", [["time", "PAR"], *LIGHT])),
    "serial_days.csv": "time;PAR\n46082,5;100\n46082,507;101\n",
    "thousands.csv": 'time,PAR\n2026-03-01 12:00,"1,250"\n2026-03-01 12:10,"1,240"\n',
    "titles.csv": "Logger 4711\nSerial: 12\n\nDate;Time;PAR (µmol/m²/s)\n"
    "01.03.2026;12:00:00;100,5\n01.03.2026;12:10:00;101,5\n",
    "no_values.csv": "time;PAR\n2026-03-01 12:00;\n",
}
CORALS = {
    "plain.csv": "Cream staghorn; SPS; 22; 27; 10; Acropora\nGrey leather; soft\n",
    "sheet.xlsx": xlsx_bytes(("C", [["name", "group"], ["Grey leather", "soft"]])),
    "titles.xlsx": xlsx_bytes(("C", [["My corals"], ["name", "group"], ["Grey leather", "soft"]])),
    "utf16.csv": "name;group\r\nGrey leather;soft\r\n".encode("utf-16"),
    "no_group.csv": "Cream staghorn\nGrey leather; soft\n",
}
PHOTOMETRY = {
    "plain.ies": IES,
    "eighth.ies": level((0, 15, 30, 45)),
    "minus_90_to_90.ies": level((-90, 0, 90)),
    "decimal_commas.ies": HEAD + TILT + BODY.replace(".", ","),
    "noise_below_zero.ies": ies_text(None, vertical=(0, 45, 90), values=[[1000, 20, -2]]),
    "hole.ies": ies_text(None, vertical=(0, 45, 90), values=[[1000, -200, 0]]),
    "odd_planes.ies": level((0, 30, 60)),
    "not_one.ies": "a recipe for soup\n",
}
FOLDERS = {
    "surveys": SURVEYS,
    "water": WATER_LOGS,
    "history": HISTORIES,
    "loggers": LOGGERS,
    "corals": CORALS,
    "photometry": PHOTOMETRY,
}


def contents() -> dict[str, bytes]:
    """Return {path below this folder: bytes} of every file."""
    return {
        f"{folder}/{name}": made if isinstance(made, bytes) else made.encode()
        for folder, files in FOLDERS.items()
        for name, made in files.items()
    }


if __name__ == "__main__":
    for path, content in contents().items():
        target = HERE / path
        target.parent.mkdir(exist_ok=True)
        target.write_bytes(content)
