package series

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"offbeat/fit"
)

// Topology says how the parts of a combination are joined.
type Topology string

const (
	Single   Topology = "single"
	Series   Topology = "series"
	Parallel Topology = "parallel"
)

// Combination is one part, or two joined, that together have Value.
type Combination struct {
	Topology Topology
	Parts    []float64 // ohm or farad; one or two, the larger share of Value first
	Value    float64   // ohm or farad
	Error    float64   // ln(Value/wanted)
}

// Options bound the search. The zero value looks through E24 for the ten nearest, one part or two.
type Options struct {
	Names      []string // series to join; empty: E24
	Count      int      // how many to return; 0: 10
	SingleOnly bool     // leave pairs out
	Low, High  float64  // ohm or farad, smallest and largest part to be had; 0: wanted/1000 and wanted*1000
}

// Nearest gives the combinations nearest wanted, best first by |ln(value/wanted)|; of two that are equally
// near, the one with fewer parts, then the one named first by topology and parts. Resistors add in series and
// their reciprocals in parallel; capacitors the other way about.
func Nearest(wanted float64, kind fit.PartKind, opt Options) ([]Combination, error) {
	if !usable(wanted) {
		return nil, fmt.Errorf("no preferred value is near %v; expected a positive number", wanted)
	}
	if len(opt.Names) == 0 {
		opt.Names = []string{"E24"}
	}
	if opt.Count <= 0 {
		opt.Count = 10
	}
	if opt.Low <= 0 {
		opt.Low = wanted / 1000
	}
	if opt.High <= 0 {
		opt.High = wanted * 1000
	}
	all, err := Between(opt.Low, opt.High, opt.Names...)
	if err != nil {
		return nil, err
	}
	out := singles(all, wanted, opt.Count)
	if !opt.SingleOnly {
		sum, reciprocal := Series, Parallel
		if kind == fit.Capacitor {
			sum, reciprocal = Parallel, Series
		}
		out = append(out, sums(all, wanted, sum, opt.Count)...)
		out = append(out, reciprocals(all, wanted, reciprocal, opt.Count)...)
	}
	slices.SortFunc(out, nearer)
	return out[:min(opt.Count, len(out))], nil
}

func nearer(a, b Combination) int {
	return cmp.Or(
		cmp.Compare(math.Abs(a.Error), math.Abs(b.Error)),
		cmp.Compare(len(a.Parts), len(b.Parts)),
		cmp.Compare(a.Topology, b.Topology),
		slices.Compare(a.Parts, b.Parts),
	)
}

func singles(all []float64, wanted float64, count int) []Combination {
	var out []Combination
	for _, v := range around(all, wanted, count) {
		out = append(out, Combination{Single, []float64{v}, v, math.Log(v / wanted)})
	}
	return out
}

// sums joins pairs a+b, a >= b. The larger lies from half of wanted up; one above wanted can only be spoilt by
// a second part. For each, only the count values nearest the rest can be among the count best.
func sums(all []float64, wanted float64, how Topology, count int) []Combination {
	var out []Combination
	for _, a := range all {
		if a >= wanted {
			break
		}
		for _, b := range around(all, wanted-a, count) {
			if b <= a {
				out = append(out, Combination{how, []float64{a, b}, a + b, math.Log((a + b) / wanted)})
			}
		}
	}
	return out
}

// reciprocals joins pairs ab/(a+b), a <= b, whose smaller part lies above wanted.
func reciprocals(all []float64, wanted float64, how Topology, count int) []Combination {
	var out []Combination
	for _, a := range all {
		if a <= wanted || a > 4*wanted {
			continue
		}
		for _, b := range around(all, a*wanted/(a-wanted), count) {
			if b >= a {
				v := a * b / (a + b)
				out = append(out, Combination{how, []float64{a, b}, v, math.Log(v / wanted)})
			}
		}
	}
	return out
}

// around gives up to count values below v and as many from v up.
func around(all []float64, v float64, count int) []float64 {
	i, _ := slices.BinarySearch(all, v)
	return all[max(0, i-count):min(len(all), i+count)]
}
