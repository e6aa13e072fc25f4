"""Dates and times as the shop writes them: ISO dates, 24-hour clock."""

DATE_FORMAT = "Y-m-d"
SHORT_DATE_FORMAT = "Y-m-d"
DATETIME_FORMAT = "Y-m-d H:i"
SHORT_DATETIME_FORMAT = "Y-m-d H:i"
TIME_FORMAT = "H:i"
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y"]
