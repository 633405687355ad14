package recognise

// column is what the head shows of one column of the table.
type column struct {
	name, unit string

	filled   int  // cells that hold something
	words    int  // cells that hold a word that is none of a level
	numbers  int  // cells that hold a number
	states   int  // cells that are 0, 1 or a word for a state
	analog   bool // numbers that are neither 0 nor 1, or clipped cells, and too many of them to be slips
	power    bool // some number has a power of ten
	integers bool // all numbers are whole, and written so
	quantity bool // a unit of time in the cells
	calendar bool
	daytime  bool // of which no date is told
	rises    bool // it never falls, and rises at least once
	counting bool // whole numbers, each one more than the one before
	bits     int  // lines whose states stand in each cell, one character each; 0: a cell is one level
	index    bool // it counts samples though it is called a time: an interval is stated, and no unit
}

// logic: states, and nothing that is none.
func (c *column) logic() bool { return !c.analog && c.states > 0 && levelUnits[c.unit].base == "" }

// inVolts: it is a level, whatever it is called.
func (c *column) inVolts() bool { return levelUnits[c.unit].base != "" }

// isTime: its name, its unit or its cells say that it is a time.
func (c *column) isTime() bool {
	return c.quantity || c.calendar || c.numbers > 0 && !c.index && !c.inVolts() && (isTimeUnit(c.unit) || isTimeName(c.name))
}

// oddStates counts the cells of a column of states that are none.
type oddStates struct {
	odd     int
	between int     // of these, how many lie between 0 and 1, and between differing states
	changes int     // of the state
	last    float64 // state; NaN: none yet
	part    bool    // a cell between 0 and 1 follows it
	begun   bool
}

func (o *oddStates) add(v float64) {
	if v != 0 && v != 1 {
		o.odd++
		o.part = v > 0 && v < 1
		return
	}
	if o.begun && v != o.last {
		o.changes++
		if o.part {
			o.between++
		}
	}
	o.last, o.begun, o.part = v, true, false
}

const (
	oddMost = 3  // so many cells of a column may be slips, if there are oddFew states to each
	oddFew  = 8  //
	oddLong = 50 // or more, if there are so many states to each
)

// many reports whether there are too many odd cells among so many states to be slips, or whether they lie on the way
// from one state to the other, as samples of a level do.
func (o *oddStates) many(states int) bool {
	if o.odd == 0 {
		return false
	}
	if o.between*2 >= max(o.changes, 2) {
		return true
	}
	return o.odd*oddLong > states && (o.odd > oddMost || o.odd*oddFew > states)
}
