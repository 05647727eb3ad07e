package nmea

import "drystage/sim"

// Moment is a date and a time of day in UTC, by the Gregorian calendar. Zero Year, Month and Day mean
// 1 January 2000. Leap seconds are ignored.
type Moment struct {
	Year, Month, Day     int
	Hour, Minute, Second int
	Nanosecond           int
}

// after gives the moment a span later; spans below 0 count as 0.
func (m Moment) after(t sim.Time) Moment {
	if m.Year == 0 {
		m.Year = 2000
	}
	m.Month, m.Day = max(m.Month, 1), max(m.Day, 1)
	t = max(t, 0)
	n := int64(m.Nanosecond) + int64(t%sim.Second)
	s := int64((m.Hour*60+m.Minute)*60+m.Second) + int64(t/sim.Second) + n/1e9
	m.Nanosecond = int(n % 1e9)
	for ; s >= 86400; s -= 86400 {
		m.tomorrow()
	}
	m.Hour, m.Minute, m.Second = int(s/3600), int(s/60%60), int(s%60)
	return m
}

func (m *Moment) tomorrow() {
	if m.Day++; m.Day <= days(m.Year, m.Month) {
		return
	}
	m.Day = 1
	if m.Month++; m.Month > 12 {
		m.Month = 1
		m.Year++
	}
}

func days(year, month int) int {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}
