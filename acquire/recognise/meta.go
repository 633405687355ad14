package recognise

import (
	"bytes"
	"math"
	"regexp"
	"slices"
	"strings"

	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// meta is what the lines around a table's head state.
type meta struct {
	interval  float64 // s, 0: not stated
	rounding  float64 // its standard uncertainty from the digits it is stated with, relative
	line      int     // that states the interval, from 1
	column    int     // byte column of its value, from 1
	tick      float64 // s, of a timer; 0: not stated
	length    int64   // rows, 0: not stated
	start     float64 // s
	timeUnit  string
	levelUnit string
	cellUnit  string   // that the cells of levels have had, in its base
	names     []string // of the columns, in a preamble that lies on its side
	units     []string
	segments  int64
}

// keyword says what a preamble's name means; the first that the name contains counts.
type keyword struct {
	words []string
	take  func(m *meta, v stated)
}

// stated is a value as a preamble gives it.
type stated struct {
	text         string
	number       float64
	rounding     float64 // relative
	ok           bool    // it is a number
	line, column int
}

var keywords = []keyword{
	{[]string{"interval", "increment", "xresolution", "x resolution", "xinc", "spacing", "sampling period", "sample period", "sample time", "time step", "timestep", "delta t", "time per sample", "time per point", "seconds per sample"}, func(m *meta, v stated) { m.setInterval(v.number, v) }},
	{[]string{"sample rate", "sampling rate", "samplerate", "sampling frequency", "sample frequency", "samples per second", "samples/s"}, func(m *meta, v stated) { m.setInterval(1/v.number, v) }},
	{[]string{"timer clock", "timer rate", "timer frequency", "tick rate", "tick frequency"}, func(m *meta, v stated) {
		if v.ok && v.number > 0 {
			m.tick = 1 / v.number
		}
	}},
	{[]string{"record length", "memory length", "number of points", "sample count", "samples", "points"}, func(m *meta, v stated) {
		if v.ok {
			m.length = int64(v.number)
		}
	}},
	{[]string{"xoffset", "x offset", "start time", "horizontal start", "xzero"}, func(m *meta, v stated) {
		if v.ok {
			m.start = v.number
		}
	}},
	{[]string{"horizontal unit", "time unit", "x unit", "xunit"}, func(m *meta, v stated) { m.timeUnit = unitOf(v.text) }},
	{[]string{"vertical unit", "y unit", "yunit"}, func(m *meta, v stated) { m.levelUnit = unitOf(v.text) }},
	{[]string{"segments"}, func(m *meta, v stated) {
		if v.ok {
			m.segments = int64(v.number)
		}
	}},
}

// A name in a preamble is an axis and a quantity, as in "HResolution", "X unit" or "Horizontal Start".
var (
	timeAxis   = words("x", "h", "hor", "horz", "horizontal", "time", "t", "sample", "sampling")
	levelAxis  = words("y", "v", "vert", "vertical", "level")
	intervals  = words("resolution", "interval", "increment", "incr", "inc", "delta", "period", "spacing", "step")
	unitWords  = words("unit", "units")
	startWords = words("offset", "origin", "start", "zero")
)

// byMeaning takes a value by what its name's two parts mean; false if they mean nothing.
func (m *meta) byMeaning(name string, v stated) bool {
	part := strings.Fields(camel(name))
	if len(part) != 2 {
		return false
	}
	axis, what := part[0], part[1]
	switch {
	case timeAxis[axis] && intervals[what]:
		m.setInterval(v.number, v)
	case timeAxis[axis] && unitWords[what]:
		m.timeUnit = unitOf(strings.Trim(v.text, "\" "))
	case levelAxis[axis] && unitWords[what]:
		m.levelUnit = unitOf(strings.Trim(v.text, "\" "))
	case timeAxis[axis] && startWords[what] && v.ok:
		m.start = v.number
	default:
		return false
	}
	return true
}

// camel puts a blank before each capital that follows a small letter, or that a small letter follows: "HUnit" is "h unit".
func camel(name string) string {
	name = strings.Trim(separators.Replace(name), " #:=;%/\"")
	var b strings.Builder
	for i := range len(name) {
		c := name[i]
		upper := func(k int) bool { return k >= 0 && k < len(name) && name[k] >= 'A' && name[k] <= 'Z' }
		lower := func(k int) bool { return k >= 0 && k < len(name) && name[k] >= 'a' && name[k] <= 'z' }
		if upper(i) && i > 0 && (lower(i-1) || upper(i-1) && lower(i+1)) {
			b.WriteByte(' ')
		}
		b.WriteByte(c)
	}
	return strings.ToLower(b.String())
}

func (m *meta) setInterval(s float64, v stated) {
	if v.ok && s > 0 && !math.IsInf(s, 0) && m.interval == 0 {
		m.interval, m.rounding, m.line, m.column = s, v.rounding, v.line, v.column
	}
}

// sideways are the names of a preamble's lines that give each column its name or its unit.
var sideways = func() map[string]func(m *meta) *[]string {
	names, units := func(m *meta) *[]string { return &m.names }, func(m *meta) *[]string { return &m.units }
	return map[string]func(m *meta) *[]string{"name": names, "names": names, "channel": names, "signal": names, "trace": names, "unit": units, "units": units}
}()

// readUnder takes a line of names and the values below them.
func (m *meta) readUnder(n, v *headLine, line int) {
	for k := range min(n.filled(), v.filled()) {
		m.pair(line, string(n.cells[k]), string(v.cells[k]), v.column(k))
	}
}

// readPairs takes a line of cells as name, value, name, value; a name with several values gives them to the columns.
func (m *meta) readPairs(l *headLine, i int) {
	n := l.filled()
	parts := assigned(l)
	if m.readRunning(l, i); m.line == i+1 {
		return
	}
	if parts == nil && n > 1 && bytes.ContainsAny(l.text, "=:") && !bytes.ContainsAny(l.text, ",;|\t") { // blanks cut "Horizontal Units=ns"
		m.readComment(l, i)
		return
	}
	if parts != nil || n == 1 {
		for _, p := range parts {
			m.pair(i, p[0], p[1], bytes.Index(l.text, []byte(p[0]))+len(p[0])+2)
		}
		return
	}
	if n < 2 {
		return
	}
	if side := sideways[plainName(string(l.cells[0]))]; side != nil {
		s := []string{""}
		for _, c := range l.cells[1:] {
			s = append(s, string(c))
		}
		*side(m) = s
		return
	}
	for k := 0; k+1 < n; k += 2 {
		name, value, at := string(l.cells[k]), string(l.cells[k+1]), l.column(k+1)
		if k+2 < n && (isTimeUnit(string(l.cells[k+2])) || isRate(string(l.cells[k+2]))) { // "Increment,2.5,us"
			value += " " + string(l.cells[k+2])
			k++
		}
		if whole := cutDecimal.FindStringSubmatch(name); whole != nil && value != "" && value[0]-'0' <= 9 { // "interval: 2,5 us"
			name, value = whole[1], whole[2]+"."+value
		}
		m.pair(i, name, value, at)
	}
}

// assigned takes a line apart into names and values, "name: value" or "name = value" in each cell, or several in one if
// blanks part them and stand nowhere else; nil if some cell is none.
func assigned(l *headLine) (pairs [][2]string) {
	var parts []string
	for _, c := range l.cells[:l.filled()] {
		if f := strings.Fields(string(c)); len(f) > 1 && !slices.ContainsFunc(f, func(p string) bool { return strings.IndexByte(p, '=') <= 0 }) {
			parts = append(parts, f...)
		} else {
			parts = append(parts, string(c))
		}
	}
	for _, p := range parts {
		k := strings.IndexAny(p, ":=")
		if k <= 0 && p != "" {
			return nil
		}
		if p != "" {
			pairs = append(pairs, [2]string{p[:k], p[k+1:]})
		}
	}
	return pairs
}

// cutDecimal is a name whose value begins with it, as where the decimal comma parts two cells.
var cutDecimal = regexp.MustCompile(`^(.*[^\d\s])\s*[:=]\s*(\d+)$`)

// readComment takes "key=value" and "key: value", several to a line if commas part them.
func (m *meta) readComment(l *headLine, i int) {
	m.readRunning(l, i)
	text, at := string(l.text), 0
	for part := range strings.SplitSeq(text, ",") {
		if k := strings.IndexAny(part, "=:"); k > 0 {
			m.pair(i, part[:k], part[k+1:], at+k+2)
		}
		at += len(part) + 1
	}
}

// readRunning takes an interval or a rate in running text: "# 20 kHz", "sampling interval 2500 ns".
func (m *meta) readRunning(l *headLine, i int) {
	text := string(l.text)
	if strings.ContainsAny(text, "=:") {
		return
	}
	if at := timesIn.FindStringSubmatch(text); at != nil && isTimeUnit(at[1]) {
		m.timeUnit = at[1]
	}
	if at := unitSaid.FindStringSubmatchIndex(text); at != nil && isTimeUnit(text[at[4]:at[5]]) {
		m.pair(i, text[at[2]:at[3]], text[at[4]:at[5]], at[4]+1)
	}
	if at := rateWords.FindStringSubmatchIndex(text); at != nil {
		m.pair(i, "rate", text[at[2]:], at[2]+1)
	} else if at := running.FindStringSubmatchIndex(text); at != nil {
		m.pair(i, text[at[2]:at[3]], text[at[4]:at[5]], at[4]+1)
	}
}

// pair reads one name and its value.
func (m *meta) pair(line int, name, value string, column int) {
	name, unit := splitUnit(strings.Trim(name, " #=;%/"))
	key := strings.Trim(plainName(name), " =;%/")
	text := strings.TrimSpace(value)
	if i := strings.LastIndexByte(text, ':'); i >= 0 { // "CH1:0.00000005"
		text = text[i+1:]
	}
	v := stated{text: text, line: line + 1, column: column}
	if _, behind := valueAndUnit(text); behind != "" {
		unit = behind
	} else {
		text += unit // "Interval (us),2"
	}
	v.number, v.rounding, v.ok = ValueUnit(text)
	if u := strangeUnit(name); unit == "" && u != "" && !strings.ContainsAny(u, "0123456789") { // "Interval (div),2.5"
		v.ok = false
	}
	for _, k := range keywords {
		for _, w := range k.words {
			if strings.Contains(key, w) {
				k.take(m, v)
				return
			}
		}
	}
	if m.byMeaning(name, v) {
		return
	}
	switch {
	case unitWords[key] && isTimeUnit(unitOf(v.text)):
		m.timeUnit = unitOf(v.text)
	case !v.ok:
	case sampled.MatchString(key) && (isRate(unit) || unit == "" && perTime.MatchString(key)):
		m.setInterval(1/v.number, v)
	case sampled.MatchString(key) && (isTimeUnit(unit) || unit == "" && apart.MatchString(key)):
		m.setInterval(v.number, v)
	case startNames[key]:
		m.start = v.number
	case stepNames[key]:
		m.setInterval(v.number, v)
	case rateNames[key]:
		m.setInterval(1/v.number, v)
	}
}

// rateUnits gives the power of ten that turns a sample rate into hertz, by the unit in lower case.
var rateUnits = map[string]int{"hz": 0, "khz": 3, "mhz": 6, "ghz": 9, "sa/s": 0, "ksa/s": 3, "msa/s": 6, "gsa/s": 9, "s/s": 0, "ks/s": 3, "ms/s": 6, "gs/s": 9,
	"sps": 0, "ksps": 3, "msps": 6, "gsps": 9, "samples/s": 0}

func isRate(unit string) bool {
	_, ok := rateUnits[strings.ToLower(unit)]
	return ok
}

var (
	// sampled: a name that speaks of sampling, in the languages that exports are labelled in.
	sampled = regexp.MustCompile(`sampl|abtast|chantillon|muestre|campion|bemonster`)
	// perTime and apart: such a name speaks of how many samples a second has, or of how far they lie apart.
	perTime, apart = regexp.MustCompile(`rate|fr[eé][qc]|tasa|taux|tasso`), regexp.MustCompile(`interv|p[eé]r[ií]od|pas|abstand|zeit`)
	// perSecond and perSample are what a rate and an interval may have behind them in words.
	perSecond = regexp.MustCompile(`(?i)\b(?:samples?|points?)\s*(?:/|per)\s*s(?:ec(?:ond)?)?$`)
	perSample = regexp.MustCompile(`(?i)\s*(?:/|\bper)\s*(?:samples?|points?|pts?|sa)$`)
	// timesIn: what the times are in.
	timesIn = regexp.MustCompile(`(?i)^[#%;/>\s]*(?:all )?times?(?: values?| column| axis| base)?(?: is| are)?(?: given| measured)? in \[?([\pL\x{fffd}]+)\]?[\s.]*$`)
	// unitSaid: words that say a unit without a sign between, "# Horizontal Units ms".
	unitSaid = regexp.MustCompile(`(?i)^[#%;/>\s]*((?:\pL+[ _-]+)?units?)\s+([\pL\x{fffd}]+)\s*$`)
	// running: words, a number and its unit.
	running = regexp.MustCompile(`^[#%;/>\s]*(\pL[\pL '/().]*?)\s+(\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?\s*[\pL/\x{b5} ]*)$`)
)

// valueAndUnit parts what is behind a number from it, without its brackets.
func valueAndUnit(s string) (number, unit string) {
	s = perSecond.ReplaceAllString(perSample.ReplaceAllString(strings.TrimSpace(s), ""), "samples/s")
	if _, ok := scan.ParseDecimal([]byte(s), '.'); ok {
		return s, ""
	}
	i := len(s)
	for i > 0 && (s[i-1] >= 0x80 || s[i-1]|0x20 >= 'a' && s[i-1]|0x20 <= 'z' || strings.IndexByte("()[]/", s[i-1]) >= 0) {
		i--
	}
	return strings.TrimSpace(s[:i]), strings.Trim(s[i:], "()[]")
}

// ValueUnit reads a number with an optional unit of time or rate, with or without brackets, into s or Hz, and tells
// how it is rounded.
func ValueUnit(s string) (v, rounding float64, ok bool) {
	number, unit := valueAndUnit(s)
	if unit == "" {
		return rounded(number, '.', 0)
	}
	in, ok := timeunit.Named(unit)
	if !ok {
		in.Times = 1
		if in.Power, ok = rateUnits[strings.ToLower(unit)]; !ok {
			return 0, 0, false
		}
	}
	if v, rounding, ok = rounded(number, '.', in.Power); !ok {
		v, rounding, ok = rounded(number, ',', in.Power)
	}
	return v * float64(in.Times), rounding, ok
}

// RoundDigits is how many digits a round number has at most: instruments sample at 2 us or 62500 Hz, and what is
// stated so is taken as exact.
const RoundDigits = 3

// rounded reads a number, and the relative standard uncertainty of one that is not round: half a unit of its last
// digit, rectangular (JCGM 100 4.3.7).
func rounded(s string, point byte, shift int) (v, rounding float64, ok bool) {
	d, ok := scan.ParseDecimal([]byte(s), point)
	if !ok {
		return 0, 0, false
	}
	v = d.Float([]byte(s), point, shift)
	if d.Significant() > RoundDigits {
		rounding = scan.Pow10(d.Unit+shift) / 2 / math.Sqrt(3) / math.Abs(v)
	}
	return v, rounding, true
}

// Interval is the interval that a line of names and values states, in s, and its relative uncertainty; 0: none.
func Interval(line []byte, delim byte) (step, rounding float64) {
	var m meta
	l := newHeadLine(line, delim)
	m.readPairs(&l, 0)
	return m.interval, m.rounding
}
