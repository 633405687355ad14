// Package acquiretest writes captures of signals whose transitions are known, as tables and as transition lists; the
// writers of all other shapes stand beside the tests that read them. It shares no code with the readers, so that a test
// which reads such a file back has an independent truth.
package acquiretest

import (
	"bufio"
	"cmp"
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

func (f Form) Fill(s *Signal) Form {
	if f.Step == 0 {
		f.Step = s.Duration / 1000
		if n := len(s.Edges); n > 1 {
			f.Step = (s.Edges[n-1] - s.Edges[0]) / float64(n-1) / 200
		}
	}
	f.Time = cmp.Or(f.Time, "%.9e")
	f.Level = cmp.Or(f.Level, "%.5e")
	return f
}

func (f Form) Rows(s *Signal) int64 { return int64(math.Floor(s.Duration/f.Step+1e-9)) + 1 }

// Printer writes lines with the form's cell and line ends.
type Printer struct {
	*bufio.Writer
	f Form
}

func NewPrinter(w io.Writer, f Form) *Printer { return &Printer{bufio.NewWriterSize(w, 1<<16), f} }

func (p *Printer) Line(cells ...string) {
	for i, c := range cells {
		if i > 0 {
			if p.f.Comma {
				p.WriteByte(';')
			} else {
				p.WriteByte(',')
			}
		}
		p.WriteString(c)
	}
	if p.f.CRLF {
		p.WriteByte('\r')
	}
	p.WriteByte('\n')
}

func (p *Printer) Number(verb string, v float64) string {
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

// Samples calls row for each sample with its number, time and level as the instrument has it.
func Samples(s *Signal, f Form, row func(i int64, t, v float64)) {
	w := walker{s: s}
	lo, hi := s.Low, s.High
	if lo == 0 && hi == 0 {
		hi = 5
	}
	for i := range f.Rows(s) {
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

// States calls row for each sample with its number, time and state.
func States(s *Signal, f Form, row func(i int64, t float64, state int)) {
	next, state := 0, s.First
	for i := range f.Rows(s) {
		t := s.Start + float64(i)*f.Step
		for next < len(s.Edges) && s.Edges[next] <= t {
			next++
			state ^= 1
		}
		row(i, t, state)
	}
}

// Table writes a row of time, in units of 1/scale s, and level for each sample.
func (p *Printer) Table(s *Signal, scale float64) error {
	Samples(s, p.f, func(_ int64, t, v float64) { p.Line(p.Number(p.f.Time, t*scale), p.Number(p.f.Level, v)) })
	return p.Flush()
}

// TimeVolt writes a preamble of name and value pairs, column names, and a row of time and volt for each sample.
func TimeVolt(w io.Writer, s Signal, f Form) error {
	f = f.Fill(&s)
	p := NewPrinter(w, f)
	p.Line("Record Length", fmt.Sprint(f.Rows(&s)))
	p.Line("Sample Interval", p.Number("%.9e", f.Step))
	p.Line("Vertical Units", "V")
	p.Line("Horizontal Units", "s")
	p.Line("time", "voltage")
	return p.Table(&s, 1)
}

// Transitions writes the first row's state, and then a row of time and state for each edge.
func Transitions(w io.Writer, s Signal, f Form) error {
	f = f.Fill(&s)
	p := NewPrinter(w, f)
	p.Line("Time [s]", "OUT")
	state := s.First
	p.Line(p.Number(f.Time, s.Start), fmt.Sprint(state))
	for _, e := range s.Edges {
		state ^= 1
		p.Line(p.Number(f.Time, e), fmt.Sprint(state))
	}
	return p.Flush()
}
