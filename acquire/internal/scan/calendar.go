package scan

import "bytes"

// Instant is a point of calendar time: whole seconds since 1970-01-01T00:00:00Z, and the digits after the mark.
type Instant struct {
	Second int64
	Digits uint64 // of the fraction
	Places int    // how many digits that is
}

// ParseCalendar reads an ISO 8601 date and time, T or a blank between them, with any number of decimals and
// with Z, ±hh:mm, ±hhmm, ±hh or nothing (taken as UTC) at the end; or a time of day with decimals, as of the first day.
func ParseCalendar(b []byte) (Instant, bool) {
	form := "dddd-dd-dd?dd:dd:dd"
	var t Instant
	var field [6]int
	f := 0
	hour := bytes.IndexByte(b[:min(len(b), 3)], ':') // digits of it
	daytime := len(b) > 8 && hour > 0
	if daytime {
		form, field, f = form[13-hour:], [6]int{1970, 1, 1}, 3
	}
	if len(b) < len(form) {
		return t, false
	}
	for i := range len(form) {
		c := b[i]
		switch form[i] {
		case 'd':
			if c -= '0'; c > 9 {
				return t, false
			}
			field[f] = field[f]*10 + int(c)
			continue
		case '?':
			if c != 'T' && c != 't' && c != ' ' {
				return t, false
			}
		default:
			if c != form[i] {
				return t, false
			}
		}
		f++
	}
	month, day, minute, second := field[1], field[2], field[4], field[5]
	if month < 1 || month > 12 || day < 1 || day > 31 || field[3] > 24 || minute > 59 || second > 60 {
		return t, false
	}
	t.Second = days(field[0], month, day)*86400 + int64(field[3])*3600 + int64(minute)*60 + int64(second)
	b = b[len(form):]
	if len(b) > 0 && (b[0] == '.' || b[0] == ',') {
		b = b[1:]
		for len(b) > 0 && b[0]-'0' <= 9 {
			if t.Places == maxDigits-1 {
				return t, false
			}
			t.Digits = t.Digits*10 + uint64(b[0]-'0')
			t.Places++
			b = b[1:]
		}
		if t.Places == 0 {
			return t, false
		}
	}
	offset, ok := zone(b)
	t.Second -= offset
	return t, ok && !(daytime && t.Places == 0)
}

// zone reads a time zone wholly, into seconds east of UTC.
func zone(b []byte) (int64, bool) {
	for len(b) > 0 && b[0] == ' ' {
		b = b[1:]
	}
	switch {
	case len(b) == 0:
		return 0, true
	case len(b) == 1 && b[0]|0x20 == 'z', string(b) == "UTC":
		return 0, true
	case b[0] != '+' && b[0] != '-':
		return 0, false
	}
	v, n := int64(0), 0
	for i, c := range b[1:] {
		if c == ':' && i == 2 {
			continue
		}
		if c -= '0'; c > 9 {
			return 0, false
		}
		v = v*10 + int64(c)
		n++
	}
	switch n {
	case 2:
		v *= 3600
	case 4:
		v = v/100*3600 + v%100*60
	default:
		return 0, false
	}
	if b[0] == '-' {
		v = -v
	}
	return v, true
}

// days counts from 1970-01-01 in the Gregorian calendar: years start in March, so that the leap day is the last.
func days(year, month, day int) int64 {
	y, m := int64(year), int64(month)
	if m <= 2 {
		y, m = y-1, m+12
	}
	return 365*y + y/4 - y/100 + y/400 + (153*(m-3)+2)/5 + int64(day) - 1 - 719468
}

// Since returns the seconds from ref (whole seconds since 1970) to t, the whole part subtracted before anything
// is rounded.
func (t Instant) Since(ref int64) float64 {
	return since(t.Second-ref, t.Digits, t.Places)
}

// since is second + digits × 10^-places, rounded once where that fits 64 bits.
func since(second int64, digits uint64, places int) float64 {
	for places > 0 && digits%10 == 0 {
		digits, places = digits/10, places-1
	}
	if places > 18 || second > 1<<62/int64(pow10[places]) || second < -1<<62/int64(pow10[places]) {
		return float64(second) + float64(digits)/Pow10(places)
	}
	m := second*int64(pow10[places]) + int64(digits)
	if m > exactMantissa || m < -exactMantissa {
		return float64(second) + float64(digits)/pow10[places]
	}
	return float64(m) / pow10[places]
}
