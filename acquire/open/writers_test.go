package open

import (
	"fmt"
	"io"
	"math"
	"strings"

	"offbeat/acquire/acquiretest"
)

// Plain writes rows of time and volt, and nothing else.
func Plain(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	return acquiretest.NewPrinter(w, f.Fill(&s)).Table(&s, 1)
}

// UnitsRow writes column names, a row of units, and the samples.
func UnitsRow(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	p := acquiretest.NewPrinter(w, f.Fill(&s))
	p.Line("t", "1")
	p.Line("second", "Volt")
	return p.Table(&s, 1)
}

// UnitHeader writes units inside the column names, and the samples; times are in milliseconds.
func UnitHeader(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	p := acquiretest.NewPrinter(w, f.Fill(&s))
	p.Line("Time (ms)", "OUT (V)")
	return p.Table(&s, 1e3)
}

// WideNames writes names of several words with wide gaps between them, and rows that blanks part; times are in microseconds.
func WideNames(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("Time since trigger / Mikrosekunden   Output voltage / V")
	acquiretest.Samples(&s, f, func(_ int64, t, v float64) { p.Line(p.Number(f.Time, t*1e6) + "   " + p.Number(f.Level, v)) })
	return p.Flush()
}

// Named writes a line for each transition that names its values.
func Named(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	for i, t := range append([]float64{s.Start}, s.Edges...) {
		p.Line("[out] time=" + strings.TrimSpace(p.Number(f.Time, t)) + " s state=" + []string{"low", "high"}[(i+s.First)%2])
	}
	return p.Flush()
}

// Values writes a preamble that states the interval, and one level a row.
func Values(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("Memory Length", fmt.Sprint(f.Rows(&s)))
	p.Line("Sampling Period", p.Number("%.9e", f.Step))
	acquiretest.Samples(&s, f, func(_ int64, t, v float64) { p.Line(p.Number(f.Level, v)) })
	return p.Flush()
}

// Logic writes a row of time and state for each sample.
func Logic(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("Time", "0")
	acquiretest.States(&s, f, func(_ int64, t float64, state int) { p.Line(p.Number(f.Time, t), fmt.Sprint(state)) })
	return p.Flush()
}

// IndexLogic writes a preamble that states the interval, and a row of index and state for each sample.
func IndexLogic(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("Sample Interval", p.Number("%.9e", f.Step))
	p.Line("index", "level")
	acquiretest.States(&s, f, func(i int64, _ float64, state int) { p.Line(fmt.Sprint(i), fmt.Sprint(state)) })
	return p.Flush()
}

// Semicolons writes decimal commas and semicolons, whatever the form says.
func Semicolons(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f.Comma = true
	return UnitHeader(w, s, f)
}

// IndexVolt writes column names and units with start and increment behind them, and a row of index and level for
// each sample.
func IndexVolt(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("n", "CH1", "Start", "Increment", "")
	p.Line("count", "Volt", p.Number("%.9e", s.Start), p.Number("%.9e", f.Step))
	acquiretest.Samples(&s, f, func(i int64, _, v float64) { p.Line(fmt.Sprint(i), p.Number(f.Level, v), "") })
	return p.Flush()
}

// Beside writes names and values in the first two columns, and time and level in the fourth and fifth of all rows.
func Beside(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	above := [][2]string{{"Record Length", fmt.Sprint(f.Rows(&s))}, {"Sample Interval", p.Number("%.9e", f.Step)}, {"Vertical Units", "V"}}
	acquiretest.Samples(&s, f, func(i int64, t, v float64) {
		var pair [2]string
		if i < int64(len(above)) {
			pair = above[i]
		}
		p.Line(pair[0], pair[1], "", "  "+p.Number(f.Time, t), "   "+p.Number(f.Level, v), "")
	})
	return p.Flush()
}

// Pairs writes two rows for each time, the lowest and the highest of two samples, at the time of the later one.
func Pairs(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("TIME", "CH1", "CH1 peak")
	first := 0.0
	acquiretest.Samples(&s, f, func(i int64, t, v float64) {
		if i%2 == 0 {
			first = v
			return
		}
		at := p.Number(f.Time, t)
		for _, x := range []float64{min(first, v), max(first, v)} {
			p.Line(at, p.Number(f.Level, x), p.Number(f.Level, x))
		}
	})
	return p.Flush()
}

// Drawn writes a transition list as its line is drawn: two rows for each edge, with one time.
func Drawn(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("Time (s)", "OUT")
	state := s.First
	p.Line(p.Number(f.Time, s.Start), fmt.Sprint(state))
	for _, e := range s.Edges {
		p.Line(p.Number(f.Time, e), fmt.Sprint(state))
		state ^= 1
		p.Line(p.Number(f.Time, e), fmt.Sprint(state))
	}
	p.Line(p.Number(f.Time, s.Start+s.Duration), fmt.Sprint(state))
	return p.Flush()
}

// VoltsInCells writes samples whose cells have their units, the levels in millivolts.
func VoltsInCells(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("Time", "OUT")
	acquiretest.Samples(&s, f, func(i int64, t, v float64) {
		p.Line(p.Number(f.Time, t)+" s", p.Number("%.3f", v*1e3)+" mV")
	})
	return p.Flush()
}

// CellUnits writes the first row's state and a row for each edge, with a unit in each time cell.
func CellUnits(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	f.Comma = false
	p := acquiretest.NewPrinter(w, f)
	units := []struct {
		name  string
		scale float64
	}{{"s", 1}, {"ms", 1e3}, {"us", 1e6}}
	p.Line("Times", "OUT")
	state := s.First
	for i, e := range append([]float64{s.Start}, s.Edges...) {
		if i > 0 {
			state ^= 1
		}
		u := units[i%len(units)]
		p.Line(p.Number("%.12f", e*u.scale)+" "+u.name, fmt.Sprint(state))
	}
	return p.Flush()
}

// Differences writes the first row's state with no time, and for each edge the time since the row before.
func Differences(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("delta_t", "OUT")
	state, last := s.First, s.Start
	p.Line("", fmt.Sprint(state))
	for _, e := range s.Edges {
		state ^= 1
		p.Line(p.Number(f.Time, e-last), fmt.Sprint(state))
		last = e
	}
	return p.Flush()
}

// Words writes a line for each pulse between two edges: H or L and its length in microseconds.
func Words(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	p := acquiretest.NewPrinter(w, f.Fill(&s))
	state := s.First
	for i := 1; i < len(s.Edges); i++ {
		state ^= 1
		if i == 1 {
			state = s.First ^ 1
		}
		fmt.Fprintf(p, "%c %.6fus\n", "LH"[state], (s.Edges[i]-s.Edges[i-1])*1e6)
	}
	return p.Flush()
}

// Console writes a terminal's log of transitions with the sample's number, one sample a microsecond.
func Console(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	p := acquiretest.NewPrinter(w, f.Fill(&s))
	fmt.Fprint(p, "> go\nrate 1000000 Hz\n")
	state := s.First
	for _, e := range s.Edges {
		fmt.Fprintf(p, "@%.0f 0%d -> 0%d D0\n", (e-s.Start)*1e6, state, state^1)
		state ^= 1
	}
	return p.Flush()
}

// sequence writes column names and units, start and increment behind them, with words that no list of units holds, and a row
// of count and level for each sample; without says to leave the count out.
func sequence(w io.Writer, s acquiretest.Signal, f acquiretest.Form, without bool) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	start, step := p.Number("%.9e", s.Start), p.Number("%.9e", f.Step)
	if without {
		p.Line("CH1", "Start", "Increment", "")
		p.Line("Volt", start, step, "")
	} else {
		p.Line("X", "CH1", "Start", "Increment", "")
		p.Line("Sequence", "Volt", start, step, "")
	}
	acquiretest.Samples(&s, f, func(i int64, _, v float64) {
		if without {
			p.Line(p.Number(f.Level, v), "")
		} else {
			p.Line(fmt.Sprint(i), p.Number(f.Level, v), "")
		}
	})
	return p.Flush()
}

// Sequence is with the count, Increment without.
func Sequence(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	return sequence(w, s, f, false)
}

// Increment is Sequence without the count.
func Increment(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	return sequence(w, s, f, true)
}

// Resolution writes a preamble of quoted names and values that name the axis by a letter, and one level a row.
func Resolution(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line(`"HResolution"`, `"`+p.Number("%.9e", f.Step)+`"`)
	p.Line(`"HOffset"`, `"`+p.Number("%.9e", s.Start)+`"`)
	p.Line(`"HUnit"`, `"s"`)
	p.Line(`"VUnit"`, `"V"`)
	acquiretest.Samples(&s, f, func(_ int64, _, v float64) { p.Line(p.Number(f.Level, v)) })
	return p.Flush()
}

// HexBeside writes a row for each edge: its time, a bus in hexadecimal, and the state.
func HexBeside(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("Time [s]", "Bus", "OUT")
	state := s.First
	p.Line(p.Number(f.Time, s.Start), "0x00", fmt.Sprint(state))
	for i, e := range s.Edges {
		state ^= 1
		p.Line(p.Number(f.Time, e), fmt.Sprintf("0x%02X", i*37&255), fmt.Sprint(state))
	}
	return p.Flush()
}

// Since writes a row for each edge: its time, how long ago the row before was, and the state.
func Since(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	f = f.Fill(&s)
	p := acquiretest.NewPrinter(w, f)
	p.Line("Time [s]", "Delta [s]", "OUT")
	state, last := s.First, s.Start
	p.Line(p.Number(f.Time, last), p.Number(f.Time, 0), fmt.Sprint(state))
	for _, e := range s.Edges {
		state ^= 1
		p.Line(p.Number(f.Time, e), p.Number(f.Time, e-last), fmt.Sprint(state))
		last = e
	}
	return p.Flush()
}

// PulseTable writes a row for each pulse between two edges: start, duration and end in whole microseconds, and which it is.
func PulseTable(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	p := acquiretest.NewPrinter(w, f.Fill(&s))
	p.Line("start", "duration", "end", "type")
	state := s.First
	for i := 1; i < len(s.Edges); i++ {
		a, b := math.Round(s.Edges[i-1]*1e6), math.Round(s.Edges[i]*1e6)
		state ^= 1
		p.Line(fmt.Sprintf("%.0f", a), fmt.Sprintf("%.0f", b-a), fmt.Sprintf("%.0f", b), []string{"SPACE", "MARK"}[state])
	}
	return p.Flush()
}

// Listing writes the rate, and a line of the sample's number and the states before and after it for each edge.
func Listing(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	p := acquiretest.NewPrinter(w, f.Fill(&s))
	fmt.Fprint(p, "Sampled at 1 MHz\n")
	state := s.First
	for _, e := range s.Edges {
		fmt.Fprintf(p, "S=%.0f 0%d -> 0%d\n", (e-s.Start)*1e6, state, state^1)
		state ^= 1
	}
	return p.Flush()
}

// Dump writes a value change dump (IEEE 1364-2005, clause 18) in nanoseconds, with a second net beside the first.
func Dump(w io.Writer, s acquiretest.Signal, f acquiretest.Form) error {
	p := acquiretest.NewPrinter(w, f.Fill(&s))
	fmt.Fprint(p, "$timescale 1 ns $end\n$scope module bench $end\n$var wire 1 ! OUT $end\n$var wire 4 # data [3:0] $end\n$upscope $end\n$enddefinitions $end\n")
	state := s.First
	fmt.Fprintf(p, "#%.0f\n$dumpvars\n%d!\nb0 #\n$end\n", 0.0, state)
	for i, e := range s.Edges {
		state ^= 1
		fmt.Fprintf(p, "#%.0f %d!\nb%b #\n", (e-s.Start)*1e9, state, i&15)
	}
	fmt.Fprintf(p, "#%.0f\n", s.Duration*1e9)
	return p.Flush()
}

// Writer writes a signal in one shape.
type Writer struct {
	Name  string
	Kind  string  // "samples", "logic" or "transitions"
	Tick  float64 // s, to which edges are rounded beside the form's digits; 0: not at all
	Digit float64 // s, to which each duration is rounded, so that the errors of the edges add up; 0: not at all
	Write func(io.Writer, acquiretest.Signal, acquiretest.Form) error

	zero func(s acquiretest.Signal) float64 // instant from which the capture counts its times; nil: zero
}

// Truth is where the capture must show the signal's edges, in its own time.
func (w Writer) Truth(s acquiretest.Signal) []float64 {
	t := make([]float64, len(s.Edges))
	for i, e := range s.Edges {
		t[i] = e
		if w.zero != nil {
			t[i] -= w.zero(s)
		}
	}
	return t
}

func fromStart(s acquiretest.Signal) float64     { return s.Start }
func fromFirstEdge(s acquiretest.Signal) float64 { return s.Edges[0] }

// Writers lists every shape that can be written.
var Writers = []Writer{
	{Name: "time and volt with preamble", Kind: "samples", Write: acquiretest.TimeVolt},
	{Name: "time and volt, no header", Kind: "samples", Write: Plain},
	{Name: "units on their own row", Kind: "samples", Write: UnitsRow},
	{Name: "units in the header", Kind: "samples", Write: UnitHeader},
	{Name: "names with wide gaps", Kind: "samples", Write: WideNames},
	{Name: "decimal commas", Kind: "samples", Write: Semicolons},
	{Name: "values only", Kind: "samples", Write: Values, zero: fromStart},
	{Name: "index and volt", Kind: "samples", Write: IndexVolt},
	{Name: "table beside a preamble", Kind: "samples", Write: Beside},
	{Name: "pairs of lowest and highest", Kind: "samples", Write: Pairs},
	{Name: "volts in the cells", Kind: "samples", Write: VoltsInCells},
	{Name: "two rows an edge", Kind: "transitions", Write: Drawn},
	{Name: "transitions", Kind: "transitions", Write: acquiretest.Transitions},
	{Name: "values named on each line", Kind: "transitions", Write: Named},
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
