"""Logs of any sensible shape, and the command that reads them."""

import json
import subprocess
import sys
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from watch_tanks import CARD, Course, log

from dawnlevel.desk.steadiness.logfile import read_log
from dawnlevel.desk.steadiness.watch import read_card, watch_view
from dawnlevel.errors import BadInputError, BadLinesError

ZONE = ZoneInfo("Europe/Lisbon")
PLAIN = "time,ph,temp_c\n2026-05-04 10:00,7.01,24.0\n2026-05-04 10:01,6.99,24.1\n"


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        "Temp;pH;Time\n24,0;7,01;04.05.2026 10:00\n24,1;6,99;04.05.2026 10:01\n",
        "timestamp\tph\twater temp (F)\n2026-05-04T09:00:00Z\t7.01\t75.2\n2026-05-04T09:01Z\t6.99\t75.38\n",
        "2026-05-04T10:00:00+01:00,7.01,24.0\n2026-05-04T10:01:00+01:00,6.99,24.1\n",
        "date,time,ph,temp\n2026-05-04,10:00,7.01,24.0\n2026-05-04,10:01,6.99,24.1\n",
        "time,ph,temp_c\n1777885200,7.01,24.0\n1777885260,6.99,24.1\n",
    ],
)
def test_the_same_readings_however_they_are_written(text: str) -> None:
    read = read_log(text.encode(), "log.csv", ZONE)
    assert read.hours == pytest.approx([10.0, 10.0 + 1 / 60])
    assert read.ph == pytest.approx([7.01, 6.99])
    assert read.temp_c == pytest.approx([24.0, 24.1], abs=0.02)
    assert (read.day_0.year, read.day_0.month, read.day_0.day) == (2026, 5, 4)


def test_order_doubles_gaps_and_lifted_probes() -> None:
    text = "time,ph\n2026-05-04 10:01,7.0\n2026-05-04 10:00,7.1\n2026-05-04 10:01,6.9\n2026-05-04 10:02,\n"
    read = read_log((text + "2026-05-04 10:03,14.0\n").encode(), "log.csv", ZONE)
    assert read.ph == pytest.approx([7.1, 6.9])
    assert (read.doubled, read.left_out) == (1, 2)
    assert np.isnan(read.temp_c).all()


def test_clocks_that_change_leave_the_wall_clock_in_charge() -> None:
    """Lisbon put its clocks forward on 2026-03-29 at 01:00: an hour apart lies two hours apart."""
    text = "time,ph\n2026-03-29T00:30:00Z,7.0\n2026-03-29T01:30:00Z,7.1\n"
    assert read_log(text.encode(), "log.csv", ZONE).hours == pytest.approx([0.5, 2.5])


def test_all_bad_lines_are_told_together() -> None:
    text = PLAIN + "yesterday,7.0,24\n2026-05-04 10:03,acid,24\n2026-05-04 10:04\n"
    with pytest.raises(BadLinesError) as caught:
        read_log(text.encode(), "log.csv", ZONE)
    assert [bad.line for bad in caught.value.lines] == [4, 5, 6]
    assert "'acid' is no pH" in str(caught.value)


def test_a_date_that_may_be_read_two_ways_is_refused() -> None:
    with pytest.raises(BadLinesError, match="day first or month first"):
        read_log(b"time,ph\n04/05/2026 10:00,7.0\n", "log.csv", ZONE)
    assert read_log(b"time,ph\n04/13/2026 10:00,7.0\n", "log.csv", ZONE).day_0.month == 4


def test_a_card_tells_everything_that_is_wrong_at_once() -> None:
    with pytest.raises(BadInputError) as caught:
        read_card(b'{"gas_on_h": "eight", "kh_dkh": 0, "timezone": "Nowhere/Else"}', "card.json")
    for part in ("gas_on_h", "lights_on_h is missing", "kh_dkh is 0", "Nowhere/Else"):
        assert part in caught.value.what


def written(folder: Path, course: Course) -> tuple[Path, Path]:
    hours, ph, temp = log(course)
    day_0 = np.datetime64("2026-05-04T00:00:00")
    stamps = day_0 + np.round(hours * 3600.0).astype("timedelta64[s]")
    rows = "\n".join(f"{at}Z,{one:.2f},{warm}" for at, one, warm in zip(stamps, ph, temp, strict=True))
    (folder / "log.csv").write_text(f"time,ph,temp_c\n{rows}\n", encoding="utf-8")
    card = {"kh_dkh": CARD.alkalinity_meq_l * 2.8, "timezone": "UTC", "temp_c": 24.0, "rate_bps": 2.0}
    for key in ("gas_on_h", "gas_off_h", "lights_on_h", "lights_off_h"):
        card[key] = getattr(CARD, key)
    (folder / "card.json").write_text(json.dumps(card), encoding="utf-8")
    return folder / "log.csv", folder / "card.json"


def test_the_command_from_outside(tmp_path: Path) -> None:
    file, card = written(tmp_path, Course(late_h=lambda d: 0.0 if d < 15 else 1.0))
    command = [sys.executable, "-m", "dawnlevel.cli", "watch", str(file), "--card", str(card)]
    told = subprocess.run([*command, "--json"], capture_output=True, text=True, check=True)
    answer = json.loads(told.stdout)
    first = answer["findings"][0]
    assert first["kind"] == "start_late"
    assert first["since"].startswith("2026-05-19T")
    assert first["since_interval_h"] > 0.0
    assert first["size"] == pytest.approx(1.0, abs=0.2)
    assert first["causes"]
    assert first["check"]
    assert len(answer["days"]) >= 23
    page = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert "Since Tue 19 May 2026: the gas opens late" in page


def test_the_command_is_told_the_clock_of_the_log(tmp_path: Path) -> None:
    """Times written without an offset by a clock nine hours ahead say the same once that is known."""
    file, card = written(tmp_path, Course(days=8))
    said = {}
    for offset in ("Z", ""):
        text = file.read_text(encoding="utf-8")
        if not offset:
            rows = [line.split(",", 1) for line in text.splitlines()[1:]]
            ahead = [np.datetime64(at.rstrip("Z")) + np.timedelta64(9, "h") for at, _ in rows]
            text = "time,ph,temp_c\n" + "".join(
                f"{at},{rest}\n" for at, (_, rest) in zip(ahead, rows, strict=True)
            )
        file.write_text(text, encoding="utf-8")
        command = [sys.executable, "-m", "dawnlevel.cli", "watch", str(file), "--card", str(card), "--json"]
        zone = [] if offset else ["--zone", "Asia/Tokyo"]
        told = subprocess.run([*command, *zone], capture_output=True, text=True, check=True)
        said[offset] = json.loads(told.stdout)
    assert said["Z"] == said[""]


def test_a_card_or_a_zone_without_a_file_is_told(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "dawnlevel.cli", "watch", "--store", str(tmp_path / "s.db")]
    for more in (["--card", "card.json"], ["--zone", "UTC"]):
        told = subprocess.run([*command, *more], capture_output=True, text=True, check=False)
        assert told.returncode == 2
        assert "belongs to a file" in told.stderr


def test_a_steady_log_says_so(tmp_path: Path) -> None:
    file, card = written(tmp_path, Course())
    view = watch_view(file.read_bytes(), "log.csv", card.read_bytes(), "card.json")
    assert view.findings == ()
