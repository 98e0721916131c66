"""Step-test files: TOML that never ends, numbers that are none, workbooks and tables that are traps."""

from __future__ import annotations

from hostile_base import GOOD_TEST, Hostile, step_test
from hostile_packed import packed

_TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
    '<Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>'
)
_RELS = '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/{}" Target="{}"/></Relationships>'
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_R = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_HEAD = ["date", "sport", "load_unit", "step_minutes", "step", "load", "hr_max", "minute", "lactate"]
_ROWS: list[list[str]] = [
    ["2026-04-20", "cycling", "W", "10", "0", "0", "", "", "1.1"],
    *(["", "", "", "", str(i), str(100 + 20 * i), str(100 + 5 * i), "10", f"{lactate}"] for i, lactate in enumerate([1.0, 1.1, 1.2, 1.6, 2.5], 1)),
]  # fmt: skip


def _cell(column: int, row: int, text: str) -> str:
    place = f"{'ABCDEFGHIJKLMNOP'[column]}{row}"
    if text.replace(".", "", 1).isdigit():
        return f'<c r="{place}"><v>{text}</v></c>'
    return f'<c r="{place}" t="inlineStr"><is><t>{text}</t></is></c>' if text else ""


def _sheet_rows(rows: list[list[str]]) -> str:
    return "".join(
        f'<row r="{number}">' + "".join(_cell(i, number, text) for i, text in enumerate(row)) + "</row>"
        for number, row in enumerate(rows, 1)
    )


GOOD_ROWS = _sheet_rows([_HEAD, *_ROWS])


def xlsx(rows: str = GOOD_ROWS, before: str = "", more: tuple[tuple[str, bytes], ...] = ()) -> bytes:
    """A workbook written by hand, so that any part of it can be wrong."""
    sheet = f'<?xml version="1.0"?>{before}<worksheet xmlns="{_MAIN}"><sheetData>{rows}</sheetData></worksheet>'
    book = f'<?xml version="1.0"?><workbook xmlns="{_MAIN}" xmlns:r="{_R}"><sheets><sheet name="Test" sheetId="1" r:id="rId1"/></sheets></workbook>'
    return packed(
        ("[Content_Types].xml", _TYPES.encode()),
        ("_rels/.rels", _RELS.format("officeDocument", "xl/workbook.xml").encode()),
        ("xl/workbook.xml", book.encode()),
        ("xl/_rels/workbook.xml.rels", _RELS.format("worksheet", "worksheets/sheet1.xml").encode()),
        ("xl/worksheets/sheet1.xml", sheet.encode()),
        *more,
    )


_OFFICE, _TABLE, _TEXT = (f"urn:oasis:names:tc:opendocument:xmlns:{name}:1.0" for name in ("office", "table", "text"))
_MANIFEST = (
    '<?xml version="1.0"?><manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
    '<manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>'
    '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
)


def ods(rows: str, before: str = "") -> bytes:
    """The same as OpenDocument."""
    content = (
        f'<?xml version="1.0"?>{before}<office:document-content xmlns:office="{_OFFICE}" xmlns:table="{_TABLE}" xmlns:text="{_TEXT}">'
        f'<office:body><office:spreadsheet><table:table table:name="Test">{rows}</table:table></office:spreadsheet></office:body></office:document-content>'
    )
    return packed(
        ("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"),
        ("META-INF/manifest.xml", _MANIFEST.encode()),
        ("content.xml", content.encode()),
    )


def _ods_cell(text: str, more: str = "") -> str:
    return f'<table:table-cell office:value-type="string" {more}><text:p>{text}</text:p></table:table-cell>'


_ODS_HEAD = "<table:table-row>" + "".join(_ods_cell(name) for name in _HEAD) + "</table:table-row>"
ODS_ROWS = "".join(
    "<table:table-row>"
    + "".join(_ods_cell(text) if text else "<table:table-cell/>" for text in row)
    + "</table:table-row>"
    for row in [_HEAD, *_ROWS]
)
_FAR = (
    '<table:table-row><table:table-cell table:number-columns-repeated="1000000000"/>'
    + _ods_cell("x")
    + "</table:table-row>"
)
_CSV = ",".join(_HEAD) + "\n" + "\n".join(",".join(row) for row in _ROWS) + "\n"


def toml(name: str, text: str | bytes, said: str, status: int = 2) -> Hostile:
    return step_test(f"test-toml-{name}", text, said, status)


def _with(line: str) -> str:
    return line + "\n" + GOOD_TEST


def _changed(old: str, new: str) -> str:
    assert old in GOOD_TEST
    return GOOD_TEST.replace(old, new, 1)


def book(name: str, data: bytes, said: str, status: int = 2, file: str = "bad.xlsx") -> Hostile:
    return step_test(f"test-{file.rpartition('.')[2]}-{name}", data, said, status, file)


_TOO_FAR = r"expected a table, found one that cannot be read \(a cell stands in row [\d,]+ and column [\d,]+; at most 5,000 and 200 are read\)"
_DOCTYPE = r"cannot be read \(it declares a document type"
_FORMULA = "=HYPERLINK(&quot;http://127.0.0.1:9/&quot;)"

STEP_TESTS = (
    toml("brackets", "x = " + "[" * 9_000, r"bad\.toml: expected plain keys and tables, found brackets nested too deep"),
    toml("inline-tables", "x = " + "{a=" * 1_800 + "1" + "}" * 1_800, r"bad\.toml: expected plain keys and tables, found brackets nested too deep"),
    toml("long-line", 'x = "' + "a" * 200_000 + '"', r"bad\.toml, line 1, column 1: expected valid TOML, found: a line of 200,006 characters"),
    toml("dotted-key", "a" + ".a" * 4_900 + " = 1", r"bad\.toml, a: there is no key 'a' here"),
    toml("dotted-keys", "\n".join(f"a{i}" + ".a" * 4_000 + " = 1" for i in range(8)), r"bad\.toml, a0: there is no key 'a0' here"),
    toml("ten-megabytes", "# x\n" * 2_500_000, r"bad\.toml: could not be read: it is larger than 256 KiB"),
    toml("whole-number-endless", _changed("load = 140", "load = " + "9" * 9_000), r"bad\.toml.*expected valid TOML, found: exceeds the limit"),
    toml("hex-number-endless", _changed("load = 140", "load = 0x" + "f" * 9_000), r"bad\.toml, step 2, load: expected a number in W, found a number of about 10837 digits"),
    toml("hex-number-as-text", _changed('sport = "cycling"', "sport = 0x" + "f" * 9_000), r"bad\.toml, sport: expected .+, found a number of about 10837 digits"),
    toml("float-endless", _changed("load = 140", "load = 1" + "0" * 9_000 + ".0"), r"bad\.toml, step 2, load: expected a number in W, found inf"),
    toml("load-nan", _changed("load = 140", "load = nan"), r"bad\.toml, step 2, load: expected a number in W, found nan"),
    toml("lactate-inf", _changed("lactate = 2.5", "lactate = inf"), r"bad\.toml, step 6, sample 2, lactate: expected a number in mmol/L, found inf"),
    toml("mass-minus-inf", _changed("mass_kg = 74.0", "mass_kg = -inf"), r"bad\.toml, mass_kg: expected a number in kg, found -inf"),
    toml("text-of-9000-signs", _changed('sport = "cycling"', f'sport = "{"x" * 9_000}"'), r"bad\.toml, sport: expected \"cycling\" or \"running\", found 'x{50,58}\.\.\."),
    toml("key-of-9000-signs", _with("k" * 9_000 + " = 1"), r"bad\.toml, k+\.\.\.: there is no key 'k+\.\.\. here"),
    toml("date-of-year-0", _changed("2026-04-20", "0000-01-01"), r"bad\.toml, line 1.*expected valid TOML"),
    toml("date-as-text-9999", _changed("2026-04-20", '"9999-12-31"'), r".", 0),
    toml("date-year-1", _changed("2026-04-20", "0001-01-01"), r".", 0),
    toml("steps-by-thousands", GOOD_TEST + "".join(f"\n[[step]]\nload = {221 + i / 10}\nsamples = [3.0]\n" for i in range(3_000)), r"bad\.toml, step: expected at most 100 steps, found 3006"),
    toml("samples-by-thousands", _changed("samples = [{minute = 5, lactate = 1.0}, {minute = 10, lactate = 1.0}]", "samples = [" + "1.0, " * 1_900 + "1.0]"), r"bad\.toml, step 1, samples: expected at most 100 samples, found 1901"),
    toml("baseline-by-thousands", _changed("baseline = [1.1]", "baseline = [" + "1.1," * 2_000 + "]"), r"bad\.toml, baseline: expected at most 100 samples, found 2000"),
    toml("key-twice", _with('sport = "running"'), r"bad\.toml, line 3, column \d+: expected valid TOML, found: cannot overwrite a value"),
    toml("array-for-text", _changed('sport = "cycling"', "sport = [[[[[1]]]]]"), r"bad\.toml, sport: expected"),
    toml("nul", _with('note = "a\0b"'), r"bad\.toml, line 1.*expected valid TOML, found: illegal character"),
    toml("not-utf8", b"note = \"\xff\xfe\"\n" + GOOD_TEST.encode(), r"bad\.toml: expected UTF-8 text, found byte 0xff"),
    toml("recording-outside", _with('recording = "../../CANARY/secret.fit"'), r"found one outside of it, which is not opened", 0),
    toml("recording-absolute", _with('recording = "/etc/passwd"'), r"found one outside of it, which is not opened", 0),
    toml("clock-bait", _changed("minute = 5", 'minute = "' + "9" * 4_000 + ':00"'), r"bad\.toml, step 1, sample 1, minute: expected"),
    toml("clock-digits", _changed("minute = 5", 'minute = "' + "9" * 6_000 + ':00"'), r"bad\.toml, step 1, sample 1, minute: expected"),
    toml("clock-other-digits", _changed("minute = 5", 'minute = "²:00"'), r"bad\.toml, step 1, sample 1, minute: expected"),
    step_test("test-csv-million-columns", "lactate" + ",x" * 1_000_000 + "\n1\n", r"bad\.csv: expected a table, found one that cannot be read \(it has more than 5,000 lines or 200 columns\)", file="bad.csv"),
    step_test("test-csv-million-lines", _CSV + "\n" * 1_000_000, r"it has more than 5,000 lines or 200 columns", file="bad.csv"),
    step_test("test-csv-bracket-bait", "lactate,(" + "(" * 30_000 + " " * 30_000 + "\n1,2\n", r"bad\.csv, row 1, column .*: there is no column", file="bad.csv"),
    step_test("test-csv-space-bait", "lactate,a" + " " * 60_000 + "b\n1,2\n", r"bad\.csv, row 1, column .*: there is no column", file="bad.csv"),
    step_test("test-csv-open-quote", _CSV + '"' + "x\n" * 2_000, r"bad\.csv", file="bad.csv"),
    step_test("test-csv-nul", _CSV.replace("cycling", "cyc\0ling"), r"bad\.csv", file="bad.csv"),
    step_test("test-csv-formulas", _CSV.replace("cycling", "=cmd|' /C calc'!A0"), r"bad\.csv, row 2, column sport: expected .+, found \"=cmd", file="bad.csv"),
    book("sound", xlsx(), r"step test of 20 April 2026", 0),
    book("far-cell", xlsx(GOOD_ROWS + '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'), _TOO_FAR),
    book("far-cell-without-a-name", xlsx(GOOD_ROWS + '<row r="9000000"><c><v>1</v></c></row>'), _TOO_FAR),
    book("cell-with-a-silly-name", xlsx(GOOD_ROWS + '<row r="99"><c r="1A"><v>1</v></c></row>'), r"it names a cell in a way that no spreadsheet program does"),
    book("billion-laughs", xlsx(before='<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>'), _DOCTYPE),
    book("external-entity", xlsx(before='<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>'), _DOCTYPE),
    book("bomb", xlsx(more=(("xl/media/bomb.bin", bytes(40 * 2**20)),)), r"it unpacks to 40 MiB in \d parts, far more than a step test"),
    book("xml-bomb", xlsx("<row>" + "<c/>" * 5_000_000 + "</row>"), r"it unpacks to 19 MiB in \d parts|a cell stands"),
    book("many-parts", xlsx(more=tuple((f"x/{i}.bin", b"") for i in range(600))), r"far more than a step test"),
    book("nested", xlsx("<a>" * 5_000 + "</a>" * 5_000), r"its XML nests more than 100 deep"),
    book("part-twice", xlsx(more=(("xl/worksheets/sheet2.xml", b"<x/>"),)).replace(b"sheet2.xml", b"sheet1.xml"), r"two of its parts have the same name"),
    book("external-link", xlsx(more=(("xl/externalLinks/_rels/externalLink1.xml.rels", _RELS.format("externalLinkPath", "http://127.0.0.1:9/x").encode()), ("xl/externalLinks/externalLink1.xml", b"<externalLink/>"))), r"step test of 20 April 2026", 0),
    book("macro", xlsx(more=(("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0" + bytes(500)),)), r"step test of 20 April 2026", 0),
    book("formula-without-a-value", xlsx(GOOD_ROWS.replace('<c r="F3"><v>120</v></c>', '<c r="F3"><f>WEBSERVICE("http://127.0.0.1:9/")</f></c>')), r"bad\.xlsx, sheet 'Test', row 3, column load"),
    book("formula-as-text", xlsx(GOOD_ROWS.replace("cycling", _FORMULA)), r"bad\.xlsx, sheet 'Test', row 2, column sport: expected"),
    book("date-of-1e300", xlsx(GOOD_ROWS.replace("<v>120</v>", "<v>1e300</v>")), r"bad\.xlsx, sheet 'Test', row 3, column load"),
    book("a-csv", _CSV.encode(), r"expected a table, found one that cannot be read"),
    book("cut", xlsx()[:-300], r"expected a table, found one that cannot be read"),
    book("sound", ods(ODS_ROWS), r"step test of 20 April 2026", 0, "bad.ods"),
    book("columns-repeated", ods(_ODS_HEAD + _FAR), _TOO_FAR, file="bad.ods"),
    book("value-repeated", ods(_ODS_HEAD + "<table:table-row>" + _ods_cell("9", 'table:number-columns-repeated="2000000000"') + "</table:table-row>"), _TOO_FAR, file="bad.ods"),
    book("rows-repeated", ods(_ODS_HEAD.replace("<table:table-row>", '<table:table-row table:number-rows-repeated="2000000000">')), _TOO_FAR, file="bad.ods"),
    book("repeated-by-a-word", ods(_ODS_HEAD + '<table:table-row><table:table-cell table:number-columns-repeated="' + "9" * 5_000 + '"/></table:table-row>'), r"it repeats cells by something that is no count", file="bad.ods"),
    book("billion-laughs", ods(_ODS_HEAD, '<!DOCTYPE x [<!ENTITY a "aaaa">]>'), _DOCTYPE, file="bad.ods"),
    book("nested", ods("<text:p>" * 5_000 + "</text:p>" * 5_000), r"its XML nests more than 100 deep", file="bad.ods"),
)  # fmt: skip
