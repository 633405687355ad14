package stream

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"offbeat/acquire/internal/timeunit"
)

// Lines that tell a frequency or a period, and the duty factor or the high time, as counters and meters print: both times follow.
var (
	ratedFrequency = labelled(`f|freq|frequency|frequenz|frequence|frecuencia|frequenza|frequentie`, `hz|khz`)
	ratedPeriod    = labelled(`(?:t[ _]?)?(?:period|per|periode|periodo|periodendauer)(?:[ _]?time)?`, `us|ms|ns|s`)
	ratedCycle     = labelled(`(?:t[ _]?)?(?:t|cycle)(?:[ _]?time)?`, `us|ms|ns|s`) // of other things too: with its unit alone
	ratedDuty      = labelled(`(?:(?:duty|dc)(?:[ _]?(?:cycle|factor|ratio))?|tastgrad|tastverhaltnis|rapport cyclique|ciclo de trabajo)`, `%|percent|pct`)
	ratedHigh      = labelled(`(?:t[ _]?)?(?:high|on|(?:pulse[ _]?)?width)(?:[ _]?time)?`, `us|ms|ns|s`)
)

// rating is what is kept of lines that rate the train.
type rating struct {
	grain  float64 // s per count of the lines that are made of them; 0: none does
	unit   float64 // s of a number without a unit; 0: not settled
	guess  *timeunit.Guess
	line   string  // the first
	first  float64 // s, its period
	period digits  // as the frequency's or the period's digits tell it
	high   digits  // and the high time, by its own digits or the duty factor's
	part   float64 // of what the period is off by that the high time has: the duty factor, where that is what tells it
}

// digits tells how numbers scatter that are rounded alike.
type digits struct {
	reach   float64 // of the first one's last digit, s
	n       float64
	mean, m float64 // of value over reach, and the sum of squares about it
}

func (d *digits) add(value float64) {
	x := value / d.reach
	d.n++
	off := x - d.mean
	d.mean += off / d.n
	d.m += off * (x - d.mean)
}

// scattered is the variance, in squares of the last digit, from which on numbers are rounded one way as often as the other: of noise
// of 0.6 of it, rounding included, 3e-4 of it is left in the mean (the first harmonic of the rounding error, exp(-2 π² 0.36)/π).
const scattered = 0.36 + 1.0/12

// common is the standard uncertainty, in s, that the rounding leaves in all of them alike.
func (d *digits) common() float64 {
	if d.n > 1 && d.m/(d.n-1) > scattered {
		return 0
	}
	return d.reach / math.Sqrt(12)
}

// quantum is a number of a line in its base unit, and how far its last digit reaches.
type quantum struct {
	value, digit float64
	unit         string // in small letters, % of a time that a duty factor tells; empty: none is written
}

// quantumOf finds what a pattern matches: a unit in the name, digits, a unit behind them.
func quantumOf(of *regexp.Regexp, line []byte) (q quantum, ok bool) {
	at := of.FindSubmatch(line)
	if at == nil {
		return q, false
	}
	q.unit = strings.ToLower(string(at[3]))
	if q.unit == "" {
		q.unit = strings.ToLower(string(at[1]))
	}
	q.value, _ = strconv.ParseFloat(string(at[2]), 64)
	q.digit = 1
	if i := bytes.IndexByte(at[2], '.'); i >= 0 {
		q.digit = 1 / math.Pow10(len(at[2])-i-1)
	}
	scale := map[string]float64{"khz": 1e3, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "%": 0.01, "percent": 0.01, "pct": 0.01}[q.unit]
	if scale > 0 {
		q.value, q.digit = q.value*scale, q.digit*scale
	}
	return q, true
}

// rates gives the period that such a line tells and its high time, each with how far its own digits reach, in s; bare where a number of
// its times has no unit: that is then one of the line's own counts.
func rates(line []byte) (period, high quantum, bare, ok bool) {
	if spoilt.Match(line) {
		return period, high, false, false
	}
	if period, ok = quantumOf(ratedFrequency, line); ok {
		period.value, period.digit = 1/period.value, period.digit/(period.value*period.value)
	} else if period, ok = quantumOf(ratedPeriod, line); ok {
		bare = period.unit == ""
	} else if period, ok = quantumOf(ratedCycle, line); !ok || period.unit == "" {
		return period, high, false, false
	}
	if d, ok := quantumOf(ratedDuty, line); ok {
		if d.unit == "" && d.value > 1 { // percent
			d.value, d.digit = d.value/100, d.digit/100
		}
		high = quantum{value: d.value * period.value, digit: d.digit * period.value, unit: "%"}
	} else if high, ok = quantumOf(ratedHigh, line); !ok || bare != (high.unit == "") {
		return period, high, false, false
	}
	reach := math.Hypot(high.digit, period.digit)
	return period, high, bare, high.value > 2*reach && period.value-high.value > 2*reach && !math.IsInf(period.value, 0)
}

// lines makes plain lines, "H 25400", "L 21200", of one that rates the train. They count in a fourth of what the first such line's
// digits reach. What the rounding of a frequency does to a steady train is the same in each line: it is common to all times; and so
// that of a duty factor, which gives the high time what it takes from the low one.
//
// Times without a unit are in the one said, if any.
func (r *rating) lines(line []byte, said float64) [][]byte {
	q, high, bare, ok := rates(line)
	if !ok {
		return nil
	}
	if bare {
		unit := r.bareUnit(q, said)
		q.value, q.digit, high.value, high.digit = q.value*unit, q.digit*unit, high.value*unit, high.digit*unit
	}
	if r.grain == 0 {
		r.grain = min(q.digit, high.digit) / 4
	}
	all, up := math.Round(q.value/r.grain), math.Round(high.value/r.grain)
	if up < 1 || all-up < 1 || all > 1e15 {
		return nil
	}
	if r.period.n == 0 {
		r.period.reach, r.high.reach, r.first, r.line = q.digit, high.digit, q.value, string(line)
		if high.unit == "%" {
			r.part = high.value / q.value
		}
	}
	r.period.add(q.value)
	if r.part > 0 {
		high.value *= r.first / q.value
	}
	r.high.add(high.value)
	return [][]byte{fmt.Appendf(nil, "H %.0f", up), fmt.Appendf(nil, "L %.0f", all-up)}
}

// bareUnit is the unit, in s, of times without one: that said, else a guess by how the first of them is written.
func (r *rating) bareUnit(q quantum, said float64) float64 {
	if r.unit == 0 {
		if r.unit = said; said == 0 {
			g := timeunit.Of(timeunit.Written{Whole: q.digit == 1}, math.NaN(), q.value)
			r.guess, r.unit = &g, 1/math.Pow10(-g.Power)
		}
	}
	return r.unit
}

// settle gives the record what is known of the digits so far.
func (r *rating) settle(rec *Record) {
	if r.grain > 0 {
		u, s := r.period.common(), r.high.common()
		rec.Digits = [3]float64{u*u*r.part*r.part + s*s, u*u*r.part*(1-r.part) - s*s, u*u*(1-r.part)*(1-r.part) + s*s}
	}
}
