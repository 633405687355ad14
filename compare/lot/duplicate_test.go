package lot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire/manifest"
)

// repeats is a lot of boards that are captured several times each, on two stations of which one is slow.
func repeats(t *testing.T, seed uint64, boards, each int, bias float64) *sampled {
	t.Helper()
	b := &bench{random: rand.New(rand.NewPCG(19, seed)), spread: [3]float64{0.01, 0.01, 0.02}, noise: 1e-4}
	var s sampled
	for i := range boards {
		x := b.board(t)
		for k := range each {
			y := x
			if k%2 == 1 {
				y = times{x.high * (1 + bias), x.low * (1 + bias)}
			}
			s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1), Station: fmt.Sprint("bench ", k%2)}, b.capture(y, "x"))
		}
	}
	return &s
}

// A name that stands on two unlike boards is said, has no verdict and does not count as poor repeatability; a station that
// measures every board 2 % low is no such thing, however few the boards are.
func TestOneNameOnUnlikeBoards(t *testing.T) {
	d := lamp()
	for _, boards := range []int{2, 12} {
		for _, bias := range []float64{0, 0.02} {
			s := repeats(t, 5, boards, 3, bias)
			if r := s.report(t, d, Options{}); len(r.Duplicates) != 0 || len(r.Failed) != 0 {
				t.Errorf("%d boards, bias %v: %+v", boards, bias, r.Duplicates)
			}
		}
	}
	s := repeats(t, 5, 12, 3, 0)
	clean := s.report(t, d, Options{}).Gauge[0].Repeatability
	foreign := s.captures[s.entries[3*7].Capture] // of lamp 8
	s.captures[s.entries[3*4+1].Capture] = foreign
	r := s.report(t, d, Options{})
	if len(r.Duplicates) != 1 || r.Duplicates[0].Kind != OneName || !slices.Equal(r.Duplicates[0].Boards, []string{"lamp 5"}) || len(r.Duplicates[0].Captures) != 3 {
		t.Fatalf("%+v", r.Duplicates)
	}
	if len(r.Failed) != 1 || r.Failed[0].Board != "lamp 5" || !strings.Contains(strings.Join(r.Warnings, "\n"), "several boards under one name") {
		t.Errorf("%+v %q", r.Failed, r.Warnings)
	}
	near(t, "repeatability", r.Gauge[0].Repeatability, clean, 0.3*clean)
	// A single board with two captures far apart, nothing to compare it with but its own uncertainty.
	one := repeats(t, 6, 1, 2, 0.05)
	if r := one.report(t, d, Options{}); len(r.Duplicates) != 1 {
		t.Errorf("%+v", r.Duplicates)
	}
}

// Two boards exchanged at the second station, of however many: neither hides the other, and it is said with which.
func TestExchangedBoards(t *testing.T) {
	for _, boards := range []int{5, 30} {
		c, random := NewCollector(lamp()), rand.New(rand.NewPCG(19, uint64(boards)))
		for i := range boards {
			row := Row{Board: fmt.Sprint("lamp ", i+1), Verdict: "pass"}
			own := 1 + 0.03*float64(i%5)
			for k := range 2 {
				off := own * (1 + 1e-4*random.NormFloat64()) * (1 + 0.001*float64(k))
				row.Each = append(row.Each, Repeat{Capture: fmt.Sprint(i+1, k), Values: [5]float64{4e-3 * off, 3e-3 * off}, Uncertainties: [5]float64{4e-7, 3e-7}})
			}
			c.rows = append(c.rows, row)
		}
		two, four := &c.rows[1], &c.rows[3]
		two.Each[1], four.Each[1] = four.Each[1], two.Each[1]
		c.unlike()
		if len(c.duplicates) != 2 || !strings.HasSuffix(two.Error, "as if lamp 2 and lamp 4 had been exchanged for the second") || !strings.HasSuffix(four.Error, "as if lamp 4 and lamp 2 had been exchanged for the second") {
			t.Errorf("%d boards: %+v", boards, c.duplicates)
		}
	}
}

// The same bytes under two boards' names: the first keeps them, the second has no capture of its own. A line that stands
// twice, or a copy of a file beside it, counts once.
func TestSameBytes(t *testing.T) {
	folder := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	a, b, copied := file("a.csv", "one"), file("b.csv", "two"), file("c.csv", "one")
	boards := Group([]manifest.Entry{{Board: "lamp 1", Capture: a}, {Board: "lamp 1", Capture: a}, {Board: "lamp 2", Capture: b}, {Board: "lamp 1", Capture: copied},
		{Board: "lamp 3", Capture: copied}, {Board: "lamp 4", Capture: filepath.Join(folder, "none.csv")}, {Board: "lamp 5", Capture: filepath.Join(folder, "none.csv")}})
	c := NewCollector(lamp())
	for i := range boards {
		boards[i].Identify()
		o := &Outcome{Board: &boards[i], Err: fmt.Errorf("not read")}
		if boards[i].Name == "lamp 3" {
			o.Err = nil
		}
		c.Add(o)
	}
	var got []string
	for _, d := range c.duplicates {
		got = append(got, d.Kind+": "+strings.Join(d.Boards, ", "))
	}
	want := []string{"listed twice: lamp 1", "listed twice: lamp 1", "one capture, several boards: lamp 1, lamp 3"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if len(boards[0].Captures) != 1 || len(boards[0].Digests) != 1 || c.rows[2].Error == "" || !strings.Contains(c.rows[2].Error, "the same capture as") {
		t.Errorf("%+v\n%+v", boards[0], c.rows[2])
	}
}

// What the other boards of a lot scatter by is their sum of squares, without those beyond nine times their median, as one would
// add it up for each board.
func TestOthersOfALot(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 71))
	for n := 1; n < 12; n++ {
		all := make([]repeated, n)
		for i := range all {
			f := float64(1 + random.IntN(3))
			all[i] = repeated{freedom: f, squares: [2]float64{f * float64(random.IntN(4)), f * math.Exp(3*random.NormFloat64())}}
		}
		for k := range 2 {
			v := variancesOf(all, k)
			for i := range all {
				var each []float64
				for j := range all {
					if j != i {
						each = append(each, all[j].squares[k]/all[j].freedom)
					}
				}
				slices.Sort(each)
				squares, freedom, left := 0.0, 0.0, 1.0
				for j := range all {
					if j == i {
						continue
					}
					if all[j].squares[k]/all[j].freedom <= 9*each[(n-2)/2] {
						squares, freedom = squares+all[j].squares[k], freedom+all[j].freedom
					} else {
						left = 1.3
					}
				}
				gotSquares, gotFreedom := v.but(&all[i], k)
				near(t, "squares", gotSquares, squares*left, 1e-9*(1+squares))
				near(t, "degrees of freedom", gotFreedom, freedom, 0)
			}
		}
	}
}

// Two boards of two captures each were exchanged where both times of each one's second are the other's first, to a tenth of what parts them.
func TestWhatIsExchanged(t *testing.T) {
	row := func(each ...[2]float64) *Row {
		r := &Row{}
		for _, v := range each {
			r.Each = append(r.Each, Repeat{})
			copy(r.Each[len(r.Each)-1].Values[:], v[:])
		}
		return r
	}
	a := row([2]float64{1, 2}, [2]float64{1.1, 2.2})
	for name, c := range map[string]struct {
		a, b *Row
		want bool
	}{
		"exchanged":           {a, row([2]float64{1.1, 2.2}, [2]float64{1, 2}), true},
		"nearly":              {a, row([2]float64{1.108, 2.216}, [2]float64{1.008, 1.985}), true},
		"not the second low":  {a, row([2]float64{1.1, 2.2}, [2]float64{1, 2.03}), false},
		"not the first high":  {a, row([2]float64{1.12, 2.2}, [2]float64{1, 2}), false},
		"alike":               {a, row([2]float64{1, 2}, [2]float64{1.1, 2.2}), false},
		"itself":              {a, a, false},
		"three captures":      {a, row([2]float64{1.1, 2.2}, [2]float64{1, 2}, [2]float64{1, 2}), false},
		"single pulses":       {row([2]float64{1}, [2]float64{1.1}), row([2]float64{1.1}, [2]float64{1}), true},
		"other single pulses": {row([2]float64{1}, [2]float64{1.1}), row([2]float64{1}, [2]float64{1.1}), false},
	} {
		if c.a.crossed(c.b) != c.want || c.b.crossed(c.a) != c.want {
			t.Errorf("%s: exchanged %v", name, !c.want)
		}
	}
}
