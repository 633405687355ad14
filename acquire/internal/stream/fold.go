package stream

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
