package stream

import (
	"bytes"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Lines that tell a frequency or a period, and the duty factor or the high time, as counters and meters print: both times follow.
var (
	ratedFrequency = regexp.MustCompile(`(?i)(?:^|[^a-z0-9])(?:f|freq|frequency)(?:[ _]?\(?(hz|khz)\)?)?["']?[ \t]*[:=]?[ \t]*(\d+(?:\.\d+)?)[ \t]*(hz|khz)?(?:$|[^a-z0-9.])`)
	ratedPeriod    = regexp.MustCompile(`(?i)(?:^|[^a-z0-9])(?:t[ _]?)?(?:t|period|cycle|per)(?:[ _]?time)?(?:[ _]?\(?(us|ms|ns|s)\)?)?["']?[ \t]*[:=]?[ \t]*(\d+(?:\.\d+)?)[ \t]*(us|ms|ns|s)?(?:$|[^a-z0-9.])`)
	ratedDuty      = regexp.MustCompile(`(?i)(?:^|[^a-z0-9])(?:duty|dc)(?:[ _]?(?:cycle|factor|ratio))?(?:[ _]?\(?(%|percent|pct)\)?)?["']?[ \t]*[:=]?[ \t]*(\d+(?:\.\d+)?)[ \t]*(%|percent|pct)?(?:$|[^a-z0-9.])`)
	ratedHigh      = regexp.MustCompile(`(?i)(?:^|[^a-z0-9])(?:t[ _]?)?(?:high|on)(?:[ _]?time)?(?:[ _]?\(?(us|ms|ns|s)\)?)?["']?[ \t]*[:=]?[ \t]*(\d+(?:\.\d+)?)[ \t]*(us|ms|ns|s)?(?:$|[^a-z0-9.])`)
)

// quantum is a number of a line in its base unit, and how far its last digit reaches.
type quantum struct {
	value, digit float64
	unit         string // in small letters; empty: none is written
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

// rates gives the period that such a line tells, the high time, and how far its digits reach in that, in s.
func rates(line []byte) (q quantum, high, reach float64, ok bool) {
	if spoilt.Match(line) {
		return q, 0, 0, false
	}
	q, ok = quantumOf(ratedFrequency, line)
	if ok {
		q.value, q.digit = 1/q.value, q.digit/(q.value*q.value)
	} else if q, ok = quantumOf(ratedPeriod, line); !ok || q.unit == "" {
		return q, 0, 0, false
	}
	if d, ok := quantumOf(ratedDuty, line); ok {
		if d.unit == "" && d.value > 1 { // percent
			d.value, d.digit = d.value/100, d.digit/100
		}
		high, reach = d.value*q.value, math.Hypot(d.value*q.digit, d.digit*q.value)
	} else if h, ok := quantumOf(ratedHigh, line); ok && h.unit != "" {
		high, reach = h.value, h.digit
	}
	return q, high, reach, reach > 0 && high > 2*reach && q.value-high > 2*reach && !math.IsInf(q.value, 0)
}
