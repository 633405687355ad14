// Package acquiretest writes captures of signals whose transitions are known, in the shapes that benches
// export. It shares no code with the readers, so that a test which reads such a file back has an
// independent truth.
package acquiretest

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
)

// Signal is a two-level signal with known transitions.
type Signal struct {
	Start    float64   // s, time of the first row
	Duration float64   // s, from the first row to the last
	First    int       // state before the first edge, 0 or 1
	Edges    []float64 // s, rising order: where the signal crosses half its swing; the state toggles at each

	Low, High float64    // V; both 0: 0 V and 5 V
	Rise      float64    // s, 0 to 100 %, both directions; a straight ramp about the edge
	Noise     float64    // V, standard deviation of white noise on each sample
	Rand      *rand.Rand // source of the noise; needed when Noise > 0
}

// Periodic returns the edges of n whole cycles, high first, from the rising edge at first on: 2n+1 edges.
func Periodic(first, high, low float64, n int) []float64 {
	e := make([]float64, 0, 2*n+1)
	for i := range n {
		t := first + float64(i)*(high+low)
		e = append(e, t, t+high)
	}
	return append(e, first+float64(n)*(high+low))
}

// Astable is a whole test signal: low for half a low time, n whole cycles, and a part of one more high time.
func Astable(high, low float64, n int) Signal {
	return Signal{Edges: Periodic(low/2, high, low, n), Duration: low/2 + float64(n)*(high+low) + high/2}
}

// walker steps through a signal in rising time, in constant time a step.
type walker struct {
	s    *Signal
	next int // the first edge whose ramp has not ended
}

// level is the noiseless level at t, which must not fall from call to call.
func (w *walker) level(t float64) float64 {
	s := w.s
	for w.next < len(s.Edges) && t >= s.Edges[w.next]+s.Rise/2 {
		w.next++
	}
	lo, hi := s.Low, s.High
	if lo == 0 && hi == 0 {
		hi = 5
	}
	from, to := lo, hi
	if s.First^w.next&1 == 1 {
		from, to = hi, lo
	}
	if w.next < len(s.Edges) {
		if d := t - (s.Edges[w.next] - s.Rise/2); d > 0 {
			return from + (to-from)*d/s.Rise
		}
	}
	return from
}

// Form says how a capture is printed. The zero value is filled by the shape that uses it.
type Form struct {
	Step  float64 // s between samples; 0: a 200th of the mean distance between edges
	Bits  int     // amplitude resolution over 1.25 times the swing; 0: not quantised
	Time  string  // fmt verb of a time, such as "%.9f"; empty: "%.9e"
	Level string  // fmt verb of a level; empty: "%.5e"
	Comma bool    // decimal comma, and ";" between cells
	CRLF  bool
}

func (f Form) fill(s *Signal) Form {
	if f.Step == 0 {
		f.Step = s.Duration / 1000
		if n := len(s.Edges); n > 1 {
			f.Step = (s.Edges[n-1] - s.Edges[0]) / float64(n-1) / 200
		}
	}
	if f.Time == "" {
		f.Time = "%.9e"
	}
	if f.Level == "" {
		f.Level = "%.5e"
	}
	return f
}

func (f Form) rows(s *Signal) int64 { return int64(math.Floor(s.Duration/f.Step+1e-9)) + 1 }

// printer writes lines with the form's cell and line ends.
type printer struct {
	w *bufio.Writer
	f Form
}

func newPrinter(w io.Writer, f Form) *printer { return &printer{bufio.NewWriterSize(w, 1<<16), f} }

func (p *printer) line(cells ...string) {
	for i, c := range cells {
		if i > 0 {
			if p.f.Comma {
				p.w.WriteByte(';')
			} else {
				p.w.WriteByte(',')
			}
		}
		p.w.WriteString(c)
	}
	if p.f.CRLF {
		p.w.WriteByte('\r')
	}
	p.w.WriteByte('\n')
}

func (p *printer) number(verb string, v float64) string {
	s := fmt.Sprintf(verb, v)
	if p.f.Comma {
		b := []byte(s)
		for i := range b {
			if b[i] == '.' {
				b[i] = ','
			}
		}
		s = string(b)
	}
	return s
}

// samples calls row for each sample with its number, time and level as the instrument has it.
func samples(s *Signal, f Form, row func(i int64, t, v float64)) {
	w := walker{s: s}
	lo, hi := s.Low, s.High
	if lo == 0 && hi == 0 {
		hi = 5
	}
	for i := range f.rows(s) {
		t := s.Start + float64(i)*f.Step
		v := w.level(t)
		if s.Noise > 0 {
			v += s.Noise * s.Rand.NormFloat64()
		}
		if f.Bits > 0 {
			q := 1.25 * (hi - lo) / float64(int64(1)<<f.Bits)
			v = math.Round(v/q) * q
		}
		row(i, t, v)
	}
}

// states calls row for each sample with its number, time and state.
func states(s *Signal, f Form, row func(i int64, t float64, state int)) {
	next, state := 0, s.First
	for i := range f.rows(s) {
		t := s.Start + float64(i)*f.Step
		for next < len(s.Edges) && s.Edges[next] <= t {
			next++
			state ^= 1
		}
		row(i, t, state)
	}
}

// table writes a row of time, in units of 1/scale s, and level for each sample.
func (p *printer) table(s *Signal, scale float64) error {
	samples(s, p.f, func(_ int64, t, v float64) { p.line(p.number(p.f.Time, t*scale), p.number(p.f.Level, v)) })
	return p.w.Flush()
}

// TimeVolt writes a preamble of name and value pairs, column names, and a row of time and volt for each sample.
func TimeVolt(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("Record Length", fmt.Sprint(f.rows(&s)))
	p.line("Sample Interval", p.number("%.9e", f.Step))
	p.line("Vertical Units", "V")
	p.line("Horizontal Units", "s")
	p.line("time", "voltage")
	return p.table(&s, 1)
}

// Plain writes rows of time and volt, and nothing else.
func Plain(w io.Writer, s Signal, f Form) error {
	return newPrinter(w, f.fill(&s)).table(&s, 1)
}

// UnitsRow writes column names, a row of units, and the samples.
func UnitsRow(w io.Writer, s Signal, f Form) error {
	p := newPrinter(w, f.fill(&s))
	p.line("t", "1")
	p.line("second", "Volt")
	return p.table(&s, 1)
}

// UnitHeader writes units inside the column names, and the samples; times are in milliseconds.
func UnitHeader(w io.Writer, s Signal, f Form) error {
	p := newPrinter(w, f.fill(&s))
	p.line("Time (ms)", "OUT (V)")
	return p.table(&s, 1e3)
}

// Values writes a preamble that states the interval, and one level a row.
func Values(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("Memory Length", fmt.Sprint(f.rows(&s)))
	p.line("Sampling Period", p.number("%.9e", f.Step))
	samples(&s, f, func(_ int64, t, v float64) { p.line(p.number(f.Level, v)) })
	return p.w.Flush()
}

// Transitions writes the first row's state, and then a row of time and state for each edge.
func Transitions(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("Time [s]", "OUT")
	state := s.First
	p.line(p.number(f.Time, s.Start), fmt.Sprint(state))
	for _, e := range s.Edges {
		state ^= 1
		p.line(p.number(f.Time, e), fmt.Sprint(state))
	}
	return p.w.Flush()
}

// Logic writes a row of time and state for each sample.
func Logic(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("Time", "0")
	states(&s, f, func(_ int64, t float64, state int) { p.line(p.number(f.Time, t), fmt.Sprint(state)) })
	return p.w.Flush()
}

// IndexLogic writes a preamble that states the interval, and a row of index and state for each sample.
func IndexLogic(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("Sample Interval", p.number("%.9e", f.Step))
	p.line("index", "level")
	states(&s, f, func(i int64, _ float64, state int) { p.line(fmt.Sprint(i), fmt.Sprint(state)) })
	return p.w.Flush()
}

// Semicolons writes decimal commas and semicolons, whatever the form says.
func Semicolons(w io.Writer, s Signal, f Form) error {
	f.Comma = true
	return UnitHeader(w, s, f)
}

// IndexVolt writes column names and units with start and increment behind them, and a row of index and level for
// each sample.
func IndexVolt(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("n", "CH1", "Start", "Increment", "")
	p.line("count", "Volt", p.number("%.9e", s.Start), p.number("%.9e", f.Step))
	samples(&s, f, func(i int64, _, v float64) { p.line(fmt.Sprint(i), p.number(f.Level, v), "") })
	return p.w.Flush()
}

// Beside writes names and values in the first two columns, and time and level in the fourth and fifth of all rows.
func Beside(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	above := [][2]string{{"Record Length", fmt.Sprint(f.rows(&s))}, {"Sample Interval", p.number("%.9e", f.Step)}, {"Vertical Units", "V"}}
	samples(&s, f, func(i int64, t, v float64) {
		var pair [2]string
		if i < int64(len(above)) {
			pair = above[i]
		}
		p.line(pair[0], pair[1], "", "  "+p.number(f.Time, t), "   "+p.number(f.Level, v), "")
	})
	return p.w.Flush()
}

// Pairs writes two rows for each time, the lowest and the highest of two samples, at the time of the later one.
func Pairs(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("TIME", "CH1", "CH1 peak")
	first := 0.0
	samples(&s, f, func(i int64, t, v float64) {
		if i%2 == 0 {
			first = v
			return
		}
		at := p.number(f.Time, t)
		for _, x := range []float64{min(first, v), max(first, v)} {
			p.line(at, p.number(f.Level, x), p.number(f.Level, x))
		}
	})
	return p.w.Flush()
}

// CellUnits writes the first row's state and a row for each edge, with a unit in each time cell.
func CellUnits(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	f.Comma = false
	p := newPrinter(w, f)
	units := []struct {
		name  string
		scale float64
	}{{"s", 1}, {"ms", 1e3}, {"us", 1e6}}
	p.line("Times", "OUT")
	state := s.First
	for i, e := range append([]float64{s.Start}, s.Edges...) {
		if i > 0 {
			state ^= 1
		}
		u := units[i%len(units)]
		p.line(p.number("%.12f", e*u.scale)+" "+u.name, fmt.Sprint(state))
	}
	return p.w.Flush()
}

// Differences writes the first row's state with no time, and for each edge the time since the row before.
func Differences(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("delta_t", "OUT")
	state, last := s.First, s.Start
	p.line("", fmt.Sprint(state))
	for _, e := range s.Edges {
		state ^= 1
		p.line(p.number(f.Time, e-last), fmt.Sprint(state))
		last = e
	}
	return p.w.Flush()
}

// Words writes a line for each pulse between two edges: H or L and its length in microseconds.
func Words(w io.Writer, s Signal, f Form) error {
	p := newPrinter(w, f.fill(&s))
	state := s.First
	for i := 1; i < len(s.Edges); i++ {
		state ^= 1
		if i == 1 {
			state = s.First ^ 1
		}
		fmt.Fprintf(p.w, "%c %.6fus\n", "LH"[state], (s.Edges[i]-s.Edges[i-1])*1e6)
	}
	return p.w.Flush()
}

// Console writes a terminal's log of transitions with the sample's number, one sample a microsecond.
func Console(w io.Writer, s Signal, f Form) error {
	p := newPrinter(w, f.fill(&s))
	fmt.Fprint(p.w, "> go\nrate 1000000 Hz\n")
	state := s.First
	for _, e := range s.Edges {
		fmt.Fprintf(p.w, "@%.0f 0%d -> 0%d D0\n", (e-s.Start)*1e6, state, state^1)
		state ^= 1
	}
	return p.w.Flush()
}

// sequence writes column names and units, start and increment behind them, with words that no list of units holds, and a row
// of count and level for each sample; without says to leave the count out.
func sequence(w io.Writer, s Signal, f Form, without bool) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	start, step := p.number("%.9e", s.Start), p.number("%.9e", f.Step)
	if without {
		p.line("CH1", "Start", "Increment", "")
		p.line("Volt", start, step, "")
	} else {
		p.line("X", "CH1", "Start", "Increment", "")
		p.line("Sequence", "Volt", start, step, "")
	}
	samples(&s, f, func(i int64, _, v float64) {
		if without {
			p.line(p.number(f.Level, v), "")
		} else {
			p.line(fmt.Sprint(i), p.number(f.Level, v), "")
		}
	})
	return p.w.Flush()
}

// Sequence is with the count, Increment without.
func Sequence(w io.Writer, s Signal, f Form) error { return sequence(w, s, f, false) }

// Increment is Sequence without the count.
func Increment(w io.Writer, s Signal, f Form) error { return sequence(w, s, f, true) }

// Resolution writes a preamble of quoted names and values that name the axis by a letter, and one level a row.
func Resolution(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line(`"HResolution"`, `"`+p.number("%.9e", f.Step)+`"`)
	p.line(`"HOffset"`, `"`+p.number("%.9e", s.Start)+`"`)
	p.line(`"HUnit"`, `"s"`)
	p.line(`"VUnit"`, `"V"`)
	samples(&s, f, func(_ int64, _, v float64) { p.line(p.number(f.Level, v)) })
	return p.w.Flush()
}

// HexBeside writes a row for each edge: its time, a bus in hexadecimal, and the state.
func HexBeside(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("Time [s]", "Bus", "OUT")
	state := s.First
	p.line(p.number(f.Time, s.Start), "0x00", fmt.Sprint(state))
	for i, e := range s.Edges {
		state ^= 1
		p.line(p.number(f.Time, e), fmt.Sprintf("0x%02X", i*37&255), fmt.Sprint(state))
	}
	return p.w.Flush()
}

// Since writes a row for each edge: its time, how long ago the row before was, and the state.
func Since(w io.Writer, s Signal, f Form) error {
	f = f.fill(&s)
	p := newPrinter(w, f)
	p.line("Time [s]", "Delta [s]", "OUT")
	state, last := s.First, s.Start
	p.line(p.number(f.Time, last), p.number(f.Time, 0), fmt.Sprint(state))
	for _, e := range s.Edges {
		state ^= 1
		p.line(p.number(f.Time, e), p.number(f.Time, e-last), fmt.Sprint(state))
		last = e
	}
	return p.w.Flush()
}

// PulseTable writes a row for each pulse between two edges: start, duration and end in whole microseconds, and which it is.
func PulseTable(w io.Writer, s Signal, f Form) error {
	p := newPrinter(w, f.fill(&s))
	p.line("start", "duration", "end", "type")
	state := s.First
	for i := 1; i < len(s.Edges); i++ {
		a, b := math.Round(s.Edges[i-1]*1e6), math.Round(s.Edges[i]*1e6)
		state ^= 1
		p.line(fmt.Sprintf("%.0f", a), fmt.Sprintf("%.0f", b-a), fmt.Sprintf("%.0f", b), []string{"SPACE", "MARK"}[state])
	}
	return p.w.Flush()
}

// Listing writes the rate, and a line of the sample's number and the states before and after it for each edge.
func Listing(w io.Writer, s Signal, f Form) error {
	p := newPrinter(w, f.fill(&s))
	fmt.Fprint(p.w, "Sampled at 1 MHz\n")
	state := s.First
	for _, e := range s.Edges {
		fmt.Fprintf(p.w, "S=%.0f 0%d -> 0%d\n", (e-s.Start)*1e6, state, state^1)
		state ^= 1
	}
	return p.w.Flush()
}

// Dump writes a value change dump (IEEE 1364-2005, clause 18) in nanoseconds, with a second net beside the first.
func Dump(w io.Writer, s Signal, f Form) error {
	p := newPrinter(w, f.fill(&s))
	fmt.Fprint(p.w, "$timescale 1 ns $end\n$scope module bench $end\n$var wire 1 ! OUT $end\n$var wire 4 # data [3:0] $end\n$upscope $end\n$enddefinitions $end\n")
	state := s.First
	fmt.Fprintf(p.w, "#%.0f\n$dumpvars\n%d!\nb0 #\n$end\n", 0.0, state)
	for i, e := range s.Edges {
		state ^= 1
		fmt.Fprintf(p.w, "#%.0f %d!\nb%b #\n", (e-s.Start)*1e9, state, i&15)
	}
	fmt.Fprintf(p.w, "#%.0f\n", s.Duration*1e9)
	return p.w.Flush()
}

// Writer writes a signal in one shape.
type Writer struct {
	Name  string
	Kind  string  // "samples", "logic" or "transitions"
	Tick  float64 // s, to which edges are rounded beside the form's digits; 0: not at all
	Digit float64 // s, to which each duration is rounded, so that the errors of the edges add up; 0: not at all
	Write func(io.Writer, Signal, Form) error

	zero func(s Signal) float64 // instant from which the capture counts its times; nil: zero
}

// Truth is where the capture must show the signal's edges, in its own time.
func (w Writer) Truth(s Signal) []float64 {
	t := make([]float64, len(s.Edges))
	for i, e := range s.Edges {
		t[i] = e
		if w.zero != nil {
			t[i] -= w.zero(s)
		}
	}
	return t
}

func fromStart(s Signal) float64     { return s.Start }
func fromFirstEdge(s Signal) float64 { return s.Edges[0] }

// Writers lists every shape that can be written.
var Writers = []Writer{
	{Name: "time and volt with preamble", Kind: "samples", Write: TimeVolt},
	{Name: "time and volt, no header", Kind: "samples", Write: Plain},
	{Name: "units on their own row", Kind: "samples", Write: UnitsRow},
	{Name: "units in the header", Kind: "samples", Write: UnitHeader},
	{Name: "decimal commas", Kind: "samples", Write: Semicolons},
	{Name: "values only", Kind: "samples", Write: Values, zero: fromStart},
	{Name: "index and volt", Kind: "samples", Write: IndexVolt},
	{Name: "table beside a preamble", Kind: "samples", Write: Beside},
	{Name: "pairs of lowest and highest", Kind: "samples", Write: Pairs},
	{Name: "transitions", Kind: "transitions", Write: Transitions},
	{Name: "sampled logic", Kind: "logic", Write: Logic},
	{Name: "index and state", Kind: "logic", Write: IndexLogic, zero: fromStart},
	{Name: "unit in each cell", Kind: "transitions", Tick: 1e-12, Write: CellUnits},
	{Name: "time differences", Kind: "transitions", Write: Differences, zero: fromStart},
	{Name: "words and durations", Kind: "transitions", Digit: 1e-12, Write: Words, zero: fromFirstEdge},
	{Name: "sequence and increment", Kind: "samples", Write: Sequence},
	{Name: "increment without a sequence", Kind: "samples", Write: Increment},
	{Name: "resolution by letter", Kind: "samples", Write: Resolution},
	{Name: "transitions beside a hexadecimal bus", Kind: "transitions", Write: HexBeside},
	{Name: "transitions and the time since", Kind: "transitions", Write: Since},
	{Name: "table of pulses", Kind: "transitions", Tick: 1e-6, Write: PulseTable},
	{Name: "listing of changes", Kind: "transitions", Tick: 1e-6, Write: Listing, zero: fromStart},
	{Name: "value change dump", Kind: "transitions", Tick: 1e-9, Write: Dump, zero: fromStart},
	{Name: "console log", Kind: "transitions", Tick: 1e-6, Write: Console, zero: fromStart},
}
