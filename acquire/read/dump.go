package read

import (
	"bytes"
	"fmt"
	"math"
	"strconv"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// dumpTaker reads a value change dump: words, whatever lines they stand on. A row comes out for each time at which one of
// the chosen nets has changed: last wins. Nothing is known of them before the first value and while the dump is off.
type dumpTaker struct {
	dump recognise.Dump
	nets map[string][]int // of each code, the chosen channels

	section scan.Section
	inside  string // $dumpvars and its kin
	off     bool
	value   []byte // a vector, a real or a state whose code is still to come
	skip    bool   // the next word is a code that nothing is done with

	timed   bool
	now     uint64 // ticks
	at      float64
	state   []float64 // of the chosen channels
	shown   []float64 // as the last row has them
	begun   bool
	shownAt float64
}

func newDumpTaker(l recognise.Dump) *dumpTaker {
	d := &dumpTaker{dump: l, nets: map[string][]int{}}
	for i, c := range l.Codes {
		d.nets[c.Code] = append(d.nets[c.Code], i)
		d.state = append(d.state, math.NaN())
		d.shown = append(d.shown, math.NaN())
	}
	d.at = d.seconds(0)
	return d
}

func (d *dumpTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	class := textClass(text)
	if cut { // the last word may be the beginning of a longer one
		if i := bytes.LastIndexAny(text, " \t") + 1; d.section.Name == "" && i < len(text) {
			text = text[:i]
			out.note("line %d has no end: its last word is left out", num)
		}
	}
	w := scan.NewWords(text)
	for word := w.Next(); word != nil; word = w.Next() {
		if _, done, mine := d.section.Take(word); mine {
			if done {
				d.section.Leave()
			}
			continue
		}
		change, err := d.word(word, num, out)
		if err != nil {
			return acquire.SkippedLine, badRow, err
		}
		if change {
			class = acquire.RowLine
		}
	}
	return class, "", nil
}

// word takes a word that belongs to no section without changes, and reports whether it is a time or a change.
func (d *dumpTaker) word(word []byte, num int64, out *listReader) (change bool, err error) {
	switch c := word[0]; {
	case d.skip:
		d.skip = false
		return true, nil
	case d.value != nil:
		d.set(word, d.value)
		d.value = nil
		return true, nil
	case c == '$':
		d.mark(string(word))
		return false, nil
	case c == '#':
		return true, d.time(word[1:], num, out)
	case c == 'b' || c == 'B':
		d.value = bytes.Clone(word[1:])
		return true, nil
	case c == 'r' || c == 'R' || c == 's' || c == 'S':
		d.skip = true
		return true, nil
	}
	if _, ok := scan.DumpState(word[0]); ok {
		if len(word) == 1 { // the code stands apart
			d.value = bytes.Clone(word)
			return true, nil
		}
		d.set(word[1:], word[:1])
		return true, nil
	}
	return false, &acquire.Error{File: out.p.Name, Line: int(num), What: fmt.Sprintf("%q is no time and no change", scan.Clip(word)), Expect: "#TIME, a state and a code such as 1!, or b0101 and a code",
		Do: "mend the line, or cut the file before it", Err: acquire.ErrSyntax}
}

// mark takes a keyword that says what the changes behind it are.
func (d *dumpTaker) mark(word string) {
	switch word {
	case "$end":
		if d.inside == "$dumpoff" {
			d.off = true
		}
		d.inside = ""
	case "$dumpoff":
		for i := range d.state {
			d.state[i] = math.NaN()
		}
		d.inside = word
	case "$dumpon", "$dumpall":
		d.inside, d.off = word, false
	default:
		d.inside = word
	}
}

// set gives a net its new state.
func (d *dumpTaker) set(code, digits []byte) {
	if d.inside == "$dumpoff" || d.off {
		return
	}
	for _, i := range d.nets[string(code)] {
		d.state[i] = bitOf(digits, d.dump.Codes[i].Bit)
	}
}

// bitOf is a bit of a vector, counted from the right; on the left it is widened with 0, x or z.
func bitOf(digits []byte, bit int) float64 {
	if len(digits) == 0 {
		return math.NaN()
	}
	c := digits[0]
	if bit < len(digits) {
		c = digits[len(digits)-1-bit]
	} else if c == '1' {
		c = '0'
	}
	v, ok := scan.DumpState(c)
	if !ok {
		return math.NaN()
	}
	return v
}

// time shows what has changed at the time before, and goes on to the next.
func (d *dumpTaker) time(digits []byte, num int64, out *listReader) error {
	n, ok := dumpTicks(digits)
	if !ok {
		return &acquire.Error{File: out.p.Name, Line: int(num), What: fmt.Sprintf("%q is no time", "#"+scan.Clip(digits)), Expect: "# and a number", Do: "mend the line, or cut the file before it", Err: acquire.ErrSyntax}
	}
	if d.timed && n < d.now {
		return &acquire.Error{File: out.p.Name, Line: int(num), What: fmt.Sprintf("the time falls from #%d to #%d", d.now, n), Expect: "times that never fall", Do: "dump again, or cut the file before it", Err: acquire.ErrTime}
	}
	if d.timed && n > d.now {
		d.show(out)
	}
	d.timed, d.now, d.at = true, n, d.seconds(n)
	return nil
}

// dumpTicks reads a time; decimals are allowed where they are zero.
func dumpTicks(b []byte) (uint64, bool) {
	if whole, fraction, ok := bytes.Cut(b, []byte(".")); ok {
		if len(bytes.Trim(fraction, "0")) > 0 {
			return 0, false
		}
		b = whole
	}
	n, err := strconv.ParseUint(string(b), 10, 63)
	return n, err == nil
}

// seconds is the time of a tick, rounded once where the product fits 64 bits.
func (d *dumpTaker) seconds(n uint64) float64 {
	zero := d.dump.Zero * float64(d.dump.Count) * scan.Pow10(d.dump.Power)
	if n > math.MaxUint64/d.dump.Count {
		return float64(n)*float64(d.dump.Count)*scan.Pow10(d.dump.Power) + zero
	}
	return since(n*d.dump.Count, d.dump.Power) + zero
}

// show makes a row of the states, if it is the first or they have changed.
func (d *dumpTaker) show(out *listReader) {
	changed := !d.begun
	for i, v := range d.state {
		changed = changed || v != d.shown[i] && !(math.IsNaN(v) && math.IsNaN(d.shown[i]))
	}
	if changed {
		out.row(d.at, d.state...)
		copy(d.shown, d.state)
		d.begun, d.shownAt = true, d.at
	}
}

// end shows the last changes, and how long the last states have lasted.
func (d *dumpTaker) end(out *listReader) {
	if !d.timed {
		return
	}
	if d.show(out); d.at > d.shownAt {
		out.row(d.at, d.state...)
	}
}
