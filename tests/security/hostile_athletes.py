"""athlete.toml, sessions.csv and plan.csv: bombs, numbers that are none, text for a spreadsheet or a terminal."""

from __future__ import annotations

from hostile_base import GOOD_ATHLETE, Hostile, home_file


def athlete(name: str, text: str | bytes, said: str, status: int = 2) -> Hostile:
    return home_file(f"athlete-{name}", "athlete.toml", text, said, status)


def csv(name: str, file: str, text: str | bytes, said: str, status: int = 2) -> Hostile:
    return home_file(f"{file.removesuffix('.csv')}-{name}", file, text, said, status)


_LABELS = "date,time,intent,sport,note\n"
_ESC = "\x1b[31m\x1b]0;owned\x07"

ATHLETES = (
    athlete("brackets", "x = " + "[" * 9_000, r"athlete\.toml: expected plain keys and tables, found brackets nested too deep"),
    athlete("long-line", "x = " + "9" * 200_000, r"athlete\.toml: not valid TOML: a line of 200,004 characters"),
    athlete("ten-megabytes", "# x\n" * 2_500_000, r"athlete\.toml: cannot be read \(it is larger than 256 KiB\)"),
    athlete("number-endless", GOOD_ATHLETE + "privacy_m = " + "9" * 9_000, r"athlete\.toml: not valid TOML: Exceeds the limit"),
    athlete("hex-endless", GOOD_ATHLETE + "privacy_m = 0x" + "f" * 9_000, r"athlete\.toml, privacy_m: expected metres from 0 to 100000, found a number of about 10837 digits"),
    athlete("privacy-nan", GOOD_ATHLETE + "privacy_m = nan", r"athlete\.toml, privacy_m: expected metres from 0 to 100000, found nan"),
    athlete("mass-inf", GOOD_ATHLETE + "[body]\nmass_kg = inf", r"athlete\.toml, body\.mass_kg: expected 20 to 300 kg, found inf"),
    athlete("mass-hex-endless", GOOD_ATHLETE + "[body]\nmass_kg = 0x" + "f" * 9_000, r"athlete\.toml, body\.mass_kg: expected 20 to 300 kg, found a number of about"),
    athlete("teeth-by-thousands", GOOD_ATHLETE + "[bike]\ncassette = [" + "11, " * 2_000 + "]", r"athlete\.toml, bike\.cassette: expected numbers of teeth"),
    athlete("setting-hex-endless", GOOD_ATHLETE + "[settings.grid]\nhold_s = 0x" + "f" * 9_000, r"athlete\.toml, \[settings\.grid\] hold_s: expected .+, found a number of about"),
    athlete("setting-inf", GOOD_ATHLETE + "[settings.grid]\npower_max_w = inf", r"athlete\.toml, \[settings\.grid\] power_max_w: expected"),
    athlete("draws-by-millions", GOOD_ATHLETE + "[settings.steptest]\ndraws = 1000000000", r"athlete\.toml, \[settings\.steptest\] draws: expected 100 to 100000"),
    athlete("zone-way-out", 'time_zone = "../../etc/passwd"', r"athlete\.toml, time_zone: expected an IANA time zone"),
    athlete("zone-absolute", 'time_zone = "/etc/localtime"', r"athlete\.toml, time_zone: expected an IANA time zone"),
    athlete("zone-nul", 'time_zone = "a\\u0000b"', r"athlete\.toml, time_zone: expected an IANA time zone"),
    athlete("zone-9000-signs", f'time_zone = "{"x" * 9_000}"', r"athlete\.toml, time_zone: expected .*, found 'x+\.\.\."),
    athlete("tests-nul", GOOD_ATHLETE + 'tests = "a\\u0000b"', r"athlete\.toml, tests: expected a path"),
    athlete("reports-nul", GOOD_ATHLETE + 'reports = "a\\u0000b"', r"athlete\.toml, reports: expected a path"),
    athlete("threshold-text", GOOD_ATHLETE + f'[thresholds]\ncycling = "{"9" * 6_000}:00"', r"thresholds\.cycling: expected|athlete\.toml"),
    athlete("threshold-nan", GOOD_ATHLETE + "[thresholds]\ncycling = nan", r"athlete\.toml, thresholds\.cycling: expected a load in the unit of the cycling test, .*found nan"),
    athlete("plan-hex-endless", GOOD_ATHLETE + "[plan.cycling]\neasy = 0x" + "f" * 9_000, r"plan\.cycling\.easy: expected hours a week from 0 to 168, found"),
    athlete("plan-nan", GOOD_ATHLETE + "[plan.cycling]\neasy = nan", r"plan\.cycling\.easy: expected hours a week from 0 to 168, found nan"),
    athlete("key-commands-terminal", GOOD_ATHLETE + '"\\u001b[2J" = 1', r"athlete\.toml, \\x1b\[2J: no such key"),
    athlete("rule-bait", GOOD_ATHLETE + "".join(f'[[intent_rule]]\nword = "w{i}"\nintent = "hard"\n' for i in range(4_000)), r".", 0),
    athlete("not-utf8", b'name = "\xff"', r"athlete\.toml: expected UTF-8 text, found byte 0xff"),
    athlete("empty", "", r".", 0),
    csv("ten-megabytes", "sessions.csv", _LABELS + "#" * 9_000_000, r"sessions\.csv: cannot be read .*larger than 8192 KiB"),
    csv("long-cell", "sessions.csv", _LABELS + "2026-05-10,,hard,," + "x" * 200_000, r"sessions\.csv: expected a table with commas, found text that is none"),
    csv("million-columns", "sessions.csv", "date,intent" + ",x" * 100_000 + "\n", r"sessions\.csv, line 1: column 'x' is not used", 0),
    csv("date-of-year-99999", "sessions.csv", _LABELS + "99999-01-01,,hard,,\n", r"sessions\.csv, line 2, date: expected a date such as", 0),
    csv("date-endless", "sessions.csv", _LABELS + "9" * 100_000 + ",,hard,,\n", r"sessions\.csv, line 2, date: expected a date such as 2026-05-14, .*found '9+\.\.\.", 0),
    csv("time-endless", "sessions.csv", _LABELS + "2026-05-10," + "9" * 100_000 + ",hard,,\n", r"sessions\.csv, line 2, time: expected a time such as 07:30, found '9+\.\.\.", 0),
    csv("intent-commands-terminal", "sessions.csv", _LABELS + f"2026-05-10,,{_ESC},,\n", r"sessions\.csv, line 2, intent: expected one of .*; found '\\x1b", 0),
    csv("nul", "sessions.csv", _LABELS + "2026-05-10,,hard,,a\0b\n", r".", 0),
    csv("not-utf8", "sessions.csv", _LABELS.encode() + b"2026-05-10,,hard,,\xff\0\n", r"sessions\.csv: cannot be read as UTF-8 text"),
    csv("formula-note", "sessions.csv", _LABELS + "2026-05-10,,hard,,=1+1\n", r".", 0),
    csv("hours-nan", "plan.csv", "sport,band,hours\ncycling,easy,nan\n", r"plan\.csv, line 2, hours: expected hours a week from 0 to 168, found 'nan'"),
    csv("week-bait", "plan.csv", "week,sport,band,hours\n" + "2" * 100_000 + ",cycling,easy,1\n", r"plan\.csv, line 2, week: expected an ISO week .*, found '2+\.\.\."),
    csv("week-other-digits", "plan.csv", "week,sport,band,hours\n२०२६-W०१,cycling,easy,1\n", r".", 0),
)  # fmt: skip
