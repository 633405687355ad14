package stream

import (
	"math"
	"slices"

	"offbeat/acquire/internal/timeunit"
)

// Form is the way in which a board prints.
type Form int

const (
	Unknown       Form = iota
	TimeLevel          // time,level at each edge
	LevelTime          // level,time at each edge
	TimeLook           // time,level at each look at the pin
	TimeReading        // time,reading at each look
	LevelDuration      // level and how long it lasted
	Duration           // how long each level lasted, in turn
)

// forms says of each form what it takes.
var forms = [...]struct {
	name  string
	takes formSet
	whole bool // a line that the end of the stream cut is still whole if it parses: its last cell has one character
}{
	Unknown:       {name: "unknown"},
	TimeLevel:     {"time,level", canLevel, true},
	LevelTime:     {"level,time", canPulse, false},
	TimeLook:      {"time,level at each look", canLevel, true},
	TimeReading:   {"time,reading", canLevel | canReading, false},
	LevelDuration: {"level duration", canPulse, false},
	Duration:      {"durations in turn", canDuration, false},
}

func (f Form) String() string { return forms[f].name }

// number of a reading: its time or its duration.
func (f Form) number(r reading) number {
	if f == LevelTime || f == LevelDuration {
		return r.last
	}
	return r.num
}

// pulses reports whether a line tells of a duration.
func (f Form) pulses() bool { return f == LevelDuration || f == Duration }

// wholeWhenCut reports whether a line that the end of the stream cut is still whole if it parses.
func (f Form) wholeWhenCut() bool { return forms[f].whole }

// fits reports whether a reading is of the form.
func (f Form) fits(r reading) bool { return r.can&forms[f].takes != 0 }

// Sampled reports whether a line tells of one look rather than of one edge.
func (f Form) Sampled() bool { return f == TimeLook || f == TimeReading }

const (
	windowFull = 12 // readings that settle any form
	growFull   = 4  // pulses that all grow are no durations but times
	turnFull   = 4  // numbers alone that settle that they are durations
)

// window holds the first readings until they show a form.
type window struct {
	readings []reading
	cut      bool // the stream ended within the line of the last one
}

// settle returns the form that the readings show; Unknown while they do not, unless the stream has ended.
// Two lines that agree are enough where nothing else could look like them.
func (w *window) settle(end bool) Form {
	n := len(w.readings)
	if n == 0 {
		return Unknown
	}
	var level, numeric, pulse, duration, repeats int
	var last reading
	for i, r := range w.readings {
		switch {
		case r.can&canLevel != 0:
			level++
			if i > 0 && last.can&canLevel != 0 && last.state == r.state {
				repeats++
			}
		case r.can&canPulse != 0:
			pulse++
		case r.can&canReading != 0:
			numeric++
		default:
			duration++
		}
		last = r
	}
	agree := n >= 2 && w.readings[n-2].can&last.can != 0
	end = end || n >= windowFull
	switch most := max(level+numeric, pulse, duration); {
	case pulse == most && pulse > level+numeric && w.growing():
		if end || n >= growFull {
			return LevelTime
		}
	case pulse == most && pulse > level+numeric:
		if end || agree {
			return LevelDuration
		}
	case duration == most:
		if end || agree && duration >= turnFull && !w.rising() {
			return Duration
		}
	case level+numeric < most:
	case numeric > 0 && 4*numeric > level:
		if end || agree && numeric >= turnFull {
			return TimeReading
		}
	case end && 2*repeats > level && level > 2:
		return TimeLook
	case end || agree && repeats == 0 && numeric == 0:
		return TimeLevel
	}
	return Unknown
}

// growing: the numbers of the pulses only grow, so they are times.
func (w *window) growing() bool { return w.grows(func(r reading) number { return r.last }) }

// rising: the numbers that stand alone only grow, so they are times without a level.
func (w *window) rising() bool {
	return len(w.readings) > turnFull-1 && w.grows(func(r reading) number { return r.num })
}

func (w *window) grows(of func(reading) number) bool {
	for i := 1; i < len(w.readings); i++ {
		if of(w.readings[i]).minus(of(w.readings[i-1])) <= 0 {
			return false
		}
	}
	return len(w.readings) > 1
}

// bare reports whether the numbers that stand alone are all 0 or 1: levels without times.
func (w *window) bare() bool {
	return !slices.ContainsFunc(w.readings, func(r reading) bool { return r.num.digits > 1 || r.num.unit })
}

// named reports whether the readings of the form write a unit of time.
func (w *window) named(f Form) bool {
	with, all := 0, 0
	for _, r := range w.readings {
		if f.fits(r) {
			all++
			if f.number(r).unit {
				with++
			}
		}
	}
	return 2*with > all
}

// labels reports whether most lines name their values.
func (w *window) labels() bool {
	n := 0
	for _, r := range w.readings {
		if r.named {
			n++
		}
	}
	return 2*n > len(w.readings)
}

// counts: all readings are whole numbers without a unit, and some is more than a few volts.
func (w *window) counts() bool {
	most := 0.0
	for _, r := range w.readings {
		if r.can&canReading != 0 && (r.volts || r.value != math.Trunc(r.value)) {
			return false
		}
		most = math.Max(most, math.Abs(r.value))
	}
	return most > 30
}

// scale tells the most decimals that the numbers of the form have, whether some has a power of ten, the first of them (NaN for durations), and the usual
// step or duration in printed units.
func (w *window) scale(f Form) (places int, power bool, first, usual float64) {
	first = math.NaN()
	var steps []float64
	var last number
	for _, r := range w.readings {
		if !f.fits(r) {
			continue
		}
		n := f.number(r)
		places, power = max(places, n.places), power || n.power
		switch {
		case f.pulses():
			steps = append(steps, n.float())
		case math.IsNaN(first):
			first = n.float()
		default:
			steps = append(steps, n.minus(last))
		}
		last = n
	}
	return places, power, first, timeunit.Usual(steps)
}

// doubtful: the unit of the numbers is a guess, and the first of them may be cut: some have decimals and others not, or they step
// by far more than decimals do.
func (w *window) doubtful(f Form) bool {
	if w.named(f) {
		return false
	}
	places, power, first, usual := w.scale(f)
	mixed := slices.ContainsFunc(w.readings, func(r reading) bool { return f.fits(r) && f.number(r).places != places })
	return !power && places > 0 && (mixed || timeunit.Of(timeunit.Written{}, first, usual).Power != 0)
}

// signed reports whether durations tell their level by a sign.
func (w *window) signed() bool {
	return slices.ContainsFunc(w.readings, func(r reading) bool { return r.num.signed })
}

// A board, or what passes its lines on, may print each line several times. A line with a time that equals the one before
// it is that line again. Durations may well repeat, so that only the pattern tells: all lines equally often.

// again reports whether a reading with a time is the one before it once more.
func again(r, before reading) bool {
	return r.can&(canLevel|canReading) != 0 && r.can == before.can && r.num == before.num && r.state == before.state && r.value == before.value && r.name == before.name
}

// equalReadings: two lines that say the same.
func equalReadings(a, b reading) bool {
	a.after, b.after = false, false
	return a == b
}

const (
	foldRuns = 3  // whole runs of equal lines that settle how often each is printed
	foldFull = 40 // readings after which no more are waited for
)

// fold tells how often each line is printed; wait says that more lines are needed to tell.
func (w *window) fold() (n int, wait bool) {
	var runs []int
	for i, r := range w.readings {
		if i > 0 && equalReadings(r, w.readings[i-1]) {
			runs[len(runs)-1]++
		} else {
			runs = append(runs, 1)
		}
	}
	if len(runs) == len(w.readings) {
		return 1, false
	}
	if len(runs) < foldRuns+2 {
		return 1, len(w.readings) < foldFull
	}
	n = runs[1]
	for i, k := range runs {
		if k > n || k < n && i > 0 && i < len(runs)-1 {
			return 1, false
		}
	}
	return n, false
}

// folder lets each line through once that is printed n times.
type folder struct {
	n, run int
	last   reading
}

// pass reports whether a reading is not the one before it again.
func (f *folder) pass(r reading) bool {
	if f.n > 1 && f.run > 0 && f.run < f.n && equalReadings(r, f.last) {
		f.run++
		return false
	}
	f.run, f.last = 1, r
	return true
}
