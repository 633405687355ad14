package open_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/open"
)

// Transitions keep their times where a temperature stands beside their states, whether each row is a transition or some tell only of the
// temperature, whether states are 0 and 1 or two voltages, and turned over. Read as samples, each edge would lie half way to
// the next. Rows of an even grid, or most of which repeat their state, are samples.
func TestTransitionsBesideTemperature(t *testing.T) {
	const high, low = 3.965e-3, 3.306e-3
	rnd := rand.New(rand.NewPCG(30, 11))
	for _, levels := range [][2]string{{"0", "1"}, {"low", "high"}, {"0.2", "4.8"}} {
		for _, between := range []float64{0, 0.3} {
			if between > 0 && levels[0] == "0.2" {
				continue // two voltages, some of them repeated: samples
			}
			var b strings.Builder
			var edges, warmth []float64
			b.WriteString("time (s),out,temperature (degC)\n")
			row := func(at float64, state int) {
				warmth = append(warmth, 20+float64(rnd.IntN(1000))/100)
				edges = append(edges, at)
				fmt.Fprintf(&b, "%.7f,%s,%.2f\n", at, levels[state], warmth[len(warmth)-1])
			}
			var states []float64
			at := 0.0
			for i := range 400 {
				length := [2]float64{high, low}[i%2]
				row(at, 1-i%2)
				states = append(states, float64(1-i%2))
				if rnd.Float64() < between {
					row(at+length*rnd.Float64(), 1-i%2)
					states = append(states, float64(1-i%2))
				}
				at += length
			}
			for _, turned := range []bool{false, true} {
				name := fmt.Sprintf("%s and %s, %g between, turned over: %v", levels[0], levels[1], between, turned)
				s, err := open.OpenReader(name, strings.NewReader(b.String()), acquire.Options{Channels: []string{"out", "temperature"}, Invert: turned})
				if err != nil {
					t.Fatal(err)
				}
				caps, rows := readAll(t, s)
				if len(caps) != 1 || caps[0].Kind != acquire.Transitions || len(rows[0]) != len(edges) {
					t.Fatalf("%s: %d records, the first of %v with %d rows, expected %d transitions", name, len(caps), caps[0].Kind, len(rows[0]), len(edges))
				}
				for i, r := range rows[0] {
					state, degrees := states[i], warmth[i]
					if turned {
						state, degrees = 1-state, -degrees // stability.Watch turns it back
					}
					if !(math.Abs(r.t-edges[i]) < 6e-8) || r.v[0] != state || !(math.Abs(r.v[1]-degrees) < 1e-9) {
						t.Fatalf("%s: row %d is %v at %g, expected %g and %g at %g", name, i, r.v, r.t, state, degrees, edges[i])
					}
				}
			}
		}
	}
}

// Samples of a state stay samples, whatever stands beside it: a column of broken numbers, chosen or not, says nothing of whether a
// row tells of a change.
func TestStatesBesideTemperature(t *testing.T) {
	rnd := rand.New(rand.NewPCG(30, 12))
	for name, uneven := range map[string]float64{"even": 0, "uneven": 0.4} {
		var b strings.Builder
		b.WriteString("time (s),out,temperature (degC)\n")
		at := 0.0
		for range 500 {
			state := 0
			if phase := at / 7.271e-3; phase-float64(int(phase)) < 0.545 {
				state = 1
			}
			fmt.Fprintf(&b, "%.6f,%d,%.2f\n", at, state, 20+5*rnd.Float64())
			at += 1e-4 * (1 + uneven*(rnd.Float64()-0.5))
		}
		for _, channels := range [][]string{{"out"}, {"out", "temperature"}} {
			s, err := open.OpenReader(name, strings.NewReader(b.String()), acquire.Options{Channels: channels})
			if err != nil {
				t.Fatal(err)
			}
			want := acquire.Logic
			if len(channels) > 1 {
				want = acquire.Samples
			}
			if caps, _ := readAll(t, s); caps[0].Kind != want {
				t.Errorf("%s, channels %v: read as %v, expected %v", name, channels, caps[0].Kind, want)
			}
		}
	}
}

// Transitions in two voltages stay transitions where the times begin anew: each start is a record of its own, of whatever length.
func TestTransitionsInVoltagesBeginAnew(t *testing.T) {
	for _, lengths := range [][]int{{40, 40}, {41, 33, 57}} {
		var b strings.Builder
		b.WriteString("t_ms,mV\n")
		for _, n := range lengths {
			at := 0.0
			for i := range n {
				fmt.Fprintf(&b, "%.4f,%d\n", at, [2]int{4800, 150}[i%2])
				at += [2]float64{3.965, 3.306}[i%2]
			}
		}
		s, err := open.OpenReader("anew", strings.NewReader(b.String()), acquire.Options{})
		if err != nil {
			t.Fatal(err)
		}
		caps, rows := readAll(t, s)
		if len(caps) != len(lengths) {
			t.Fatalf("%d records, expected %d", len(caps), len(lengths))
		}
		for k, c := range caps {
			if c.Kind != acquire.Transitions || len(rows[k]) != lengths[k] || rows[k][0].v[0] != 1 || rows[k][1].v[0] != 0 || !(math.Abs(rows[k][2].t-7.271e-3) < 1e-9) {
				t.Errorf("record %d: %v, %d rows, %v", k+1, c.Kind, len(rows[k]), rows[k][:3])
			}
		}
	}
}

// A channel whose first thousands of rows are blank keeps its name and its number, and does not count where none is chosen.
func TestChannelThatBeginsLate(t *testing.T) {
	text := func(late, rows int) string {
		var b strings.Builder
		b.WriteString("t_us,OUT,clock,\n")
		for i := range rows {
			out := ""
			if i >= late {
				out = fmt.Sprintf("%.2f", 5*float64(i/20%2))
			}
			fmt.Fprintf(&b, "%d,%s,%.2f,\n", i, out, 3*float64(i/7%2))
		}
		return b.String()
	}
	read := func(text, channel string) (ones, rows int, err error) {
		opt := acquire.Options{Channels: []string{channel}}
		if channel == "" {
			opt.Channels = nil
		}
		src, err := open.OpenReader("x", strings.NewReader(text), opt)
		if err != nil {
			return 0, 0, err
		}
		c, err := src.Next()
		for b := (acquire.Block{}); err == nil; {
			if err = c.Read(&b); err == nil {
				for _, v := range b.Value[0][:b.N] {
					rows++
					if v == 5 {
						ones++
					}
				}
			}
		}
		return ones, rows, nil
	}
	late := text(9000, 12_000)
	for _, channel := range []string{"OUT", "1"} {
		if ones, rows, err := read(late, channel); err != nil || ones != 1500 || rows < 3000 {
			t.Errorf("channel %s: %d of %d rows high, %v", channel, ones, rows, err)
		}
	}
	if ones, rows, err := read(late, "2"); err != nil || ones != 0 || rows != 12_000 {
		t.Errorf("the second channel: %d of %d rows at 5 V, %v", ones, rows, err)
	}
	if ones, rows, err := read(text(50, 40), ""); err != nil || ones != 0 || rows != 40 {
		t.Errorf("beside a channel without a value the other needs no choice: %d of %d rows at 5 V, %v", ones, rows, err)
	}
	if _, _, err := read(text(50, 40), "OUT"); !errors.Is(err, acquire.ErrChoice) || !strings.Contains(err.Error(), "x:1:6: channel \"OUT\" has no value") {
		t.Errorf("a channel without a value: %v", err)
	}
}
