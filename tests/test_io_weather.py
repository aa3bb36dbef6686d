"""Weather and prices as they are read: one sentence for each fault, nothing made up."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from pathways.errors import InputError, RefusedError
from pathways.io._findings import Findings
from pathways.io._settings_file import read_settings
from pathways.io.weather import read_prices, read_weather
from pathways.settings import ClimateSettings

RAIN = [50.0] * 12


def record(days=400, columns="date,rain_mm,evaporation_mm", cells="2.0,1.0"):
    first = date(2019, 1, 1)
    rows = [f"{first + timedelta(days=one)},{cells}" for one in range(days)]
    return [columns, *rows]


def read(folder, lines, **climate):
    (folder / "rain.csv").write_text("\n".join(lines), encoding="utf-8")
    return read_weather(folder, ClimateSettings(daily_file="rain.csv", **climate))


def test_record_is_read_day_by_day(tmp_path):
    found = read(tmp_path, record(730))
    assert found.is_daily
    assert found.days.size == 730
    assert found.rain_mm.sum() == 1460.0
    assert found.year[0] == 2019
    assert found.month[40] == 2
    assert found.says == "730 days from 2019-01-01 to 2020-12-30"


def test_semicolons_and_a_byte_order_mark_are_read(tmp_path):
    lines = [one.replace(",", ";") for one in record()]
    (tmp_path / "rain.csv").write_text("\n".join(lines), encoding="utf-8-sig")
    assert read_weather(tmp_path, ClimateSettings(daily_file="rain.csv")) is not None


@pytest.mark.parametrize(
    ("line", "text", "sentence"),
    [
        (
            5,
            "2019-01-05,-2.0,1.0",
            "line 6: rain_mm is -2.0; it must be a number from 0",
        ),
        (5, "2019-01-05,,1.0", "line 6: rain_mm is nothing"),
        (5, "2019-01-05,nan,1.0", "line 6: rain_mm is nan"),
        (5, "2019-01-05,2500,1.0", "line 6: rain_mm is 2500"),
        (5, "2019-01-05,2.0,99", "line 6: evaporation_mm is 99"),
        (5, "2019-01-06,2.0,1.0", "2019-01-06 follows on 2019-01-04, where 2019-01-05"),
        (5, "05.01.2019,2.0,1.0", "'05.01.2019' is no date; write it as 2024-01-31"),
        (5, "2019-01-05,2.0", "2 values for 3 columns"),
        (0, "day,rain_mm,evaporation_mm", "has no column date"),
        (0, "date,rain_mm,rain_mm", "has the column rain_mm twice"),
        (0, "date,rain_mm,", "a column without a name"),
        (0, "date,rain_mm,evaporation", "did you mean 'evaporation_mm'"),
        (5, "2019-01-05,1_0,1.0", "rain_mm is 1_0"),
        (0, "date,rain,evaporation_mm", "has no column rain_mm"),
    ],
)
def test_fault_in_a_record_is_told_with_its_line(tmp_path, line, text, sentence):
    lines = record()
    lines[line] = text
    with pytest.raises(InputError, match=sentence) as caught:
        read(tmp_path, lines)
    assert "\n" not in str(caught.value)


def test_record_of_less_than_a_year_is_refused(tmp_path):
    with pytest.raises(InputError, match="has 300 days; a year of them is the least"):
        read(tmp_path, record(300))


def test_record_that_is_not_there_is_told(tmp_path):
    with pytest.raises(InputError, match=r"names 'gone\.csv', which is not there"):
        read_weather(tmp_path, ClimateSettings(daily_file="gone.csv"))


def test_record_that_is_no_text_is_refused(tmp_path):
    (tmp_path / "rain.csv").write_bytes(b"date,rain_mm\n\xff\xfe")
    with pytest.raises(InputError, match="is not UTF-8 text"):
        read_weather(tmp_path, ClimateSettings(daily_file="rain.csv"))


def test_evaporation_is_never_made_up(tmp_path):
    only_rain = record(columns="date,rain_mm", cells="2.0")
    with pytest.raises(
        InputError, match="has no evaporation_mm, and evaporation is not"
    ):
        read(tmp_path, only_rain)
    spread = read(tmp_path, only_rain, evaporation_mm=[31.0] * 12)
    assert spread.evaporation_mm[0] == pytest.approx(1.0)
    assert "spread evenly" in spread.evaporation_says


def test_temperatures_ask_for_the_latitude(tmp_path):
    columns = "date,rain_mm,least_temperature_c,greatest_temperature_c"
    lines = record(columns=columns, cells="2.0,5.0,15.0")
    with pytest.raises(InputError, match="give latitude_degrees"):
        read(tmp_path, lines)
    found = read(tmp_path, lines, latitude_degrees=52.0)
    assert (found.evaporation_mm > 0).all()
    assert found.evaporation_mm[180] > 3 * found.evaporation_mm[0]


def test_exchanged_temperatures_and_tenths_of_millimetres_are_refused(tmp_path):
    columns = "date,rain_mm,least_temperature_c,greatest_temperature_c"
    with pytest.raises(InputError, match="are the two exchanged"):
        read(tmp_path, record(columns=columns, cells="2.0,15.0,5.0"))
    with pytest.raises(InputError, match="tenths of a millimetre"):
        read(tmp_path, record(cells="250,1.0"))


def test_months_are_a_mean_year(tmp_path):
    found = read_weather(
        tmp_path, ClimateSettings(rain_mm=RAIN, evaporation_mm=[40.0] * 12)
    )
    assert not found.is_daily
    assert found.years == pytest.approx(1.0)
    assert found.rain_mm.sum() == 600.0


def test_months_without_evaporation_are_refused(tmp_path):
    with pytest.raises(InputError, match="evaporation is not known; give"):
        read_weather(tmp_path, ClimateSettings(rain_mm=RAIN))


def test_without_rain_there_is_no_weather(tmp_path):
    assert read_weather(tmp_path, ClimateSettings()) is None


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[climate]\nrain_mm = [1,2,3,4,5,6,7,8,9,10,11,12,13]", "twelve numbers"),
        ("[climate]\nrain_mm = [-1,2,3,4,5,6,7,8,9,10,11,12]", "at least 0"),
        ("[washings]\ntimes = [1, 2]\neach_l = 300", "twelve numbers, January first"),
        ("[washings]\neach_l = 0", "more than 0"),
        ("[bed]\ndepth_m = 0", "more than 0"),
        ("[bed]\ndepth_m = 30", "at most 3"),
        ("[pad]\nkerb_m = -0.1", "more than 0"),
        ("[climate]\nlatitude_degrees = 520", "at most 90"),
        ("[washings]\nevents = 3", "the key 'events' in \\[washings\\] is not known"),
    ],
)
def test_impossible_settings_get_their_sentence(tmp_path, text, sentence):
    path = tmp_path / "farm.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RefusedError) as caught:
        read_settings(path, Findings())
    assert np.any(
        [sentence.replace("\\", "") in one.text for one in caught.value.notices]
    )


# --- prices ---


def test_prices_are_read_by_item(tmp_path):
    (tmp_path / "prices.csv").write_text(
        'item,price\nmesh,4.5\n"compost, without peat",30\n', encoding="utf-8"
    )
    found = read_prices(tmp_path, "prices.csv")
    assert found == {"mesh": 4.5, "compost, without peat": 30.0}
    assert read_prices(tmp_path, "") == {}


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("mesh,4.5", "must begin with the line: item,price"),
        ("item,price\nmesh,-1", "line 2: it is no item and price of 0 or more"),
        ("item,price\nmesh", "line 2"),
        ("item,price\nmesh,1,2", "line 2"),
        ("item,price\nmesh,nan", "line 2"),
        ("item,price\nmesh,1_000", "line 2"),
        ("item,price\nmesh,1\nmesh,2", "mesh has a price already"),
        ("", "must begin"),
    ],
)
def test_fault_in_prices_is_told_with_its_line(tmp_path, text, sentence):
    (tmp_path / "prices.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=sentence):
        read_prices(tmp_path, "prices.csv")


def test_prices_that_are_not_there_are_told(tmp_path):
    with pytest.raises(InputError, match=r"names 'gone\.csv', which is not there"):
        read_prices(tmp_path, "gone.csv")
