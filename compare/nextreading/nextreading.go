// Package nextreading ranks what to measure next: by how much a reading is expected to lower the entropy over
// the causes (Lindley 1956, the expected information of an experiment), for the minutes it takes.
package nextreading

import (
	"cmp"
	"math"
	"slices"

	"offbeat/compare"
	"offbeat/compare/caution"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// test is one reading that a bench offers. What it would show is a function of the board's true values.
type test struct {
	name     string
	part     string
	effort   float64 // minutes, common practice
	caution  string
	observe  func(v *circuit.Values) []float64 // each on a scale where accuracy is meaningful: logarithms or ratios
	accuracy []float64                         // half-width of each observation
}

// Accuracies of the usual bench instruments, relative half-widths (common practice).
const (
	ohmmeter    = 0.005
	capacitance = 0.01
	voltmeter   = 0.005
	counter     = 1e-4
	waveform    = 0.01
	knownPart   = 0.01
)

// tests lists the readings that make sense for a circuit with the given nominal parts.
func tests(c *circuit.Circuit, nominal *circuit.Values) []test {
	var out []test
	for i, p := range c.Parts {
		slot := circuit.Slot(i)
		direct := func(v *circuit.Values) []float64 { return []float64{math.Log(v[slot])} }
		if p.Kind == fit.Resistor {
			out = append(out, test{"resistance of " + p.Name + ", one leg lifted", p.Name, 4, caution.Off, direct, []float64{ohmmeter}})
			continue
		}
		out = append(out, test{"capacitance of " + p.Name + ", out of circuit", p.Name, 6, caution.Off + " " + caution.Polarity, direct, []float64{capacitance}})
		out = append(out, test{"times again with a known capacitor of " + p.Name + "'s value across it", p.Name, 3, caution.Add, again(c, slot, nominal[slot]), []float64{knownPart, knownPart}})
	}
	if c.Has(circuit.Upper) {
		out = append(out, test{"control-pin voltage against the supply", "", 1, caution.Live, func(v *circuit.Values) []float64 {
			return []float64{math.Log(v[circuit.Upper])}
		}, []float64{voltmeter}})
	}
	if c.Has(circuit.LeakRatio) {
		out = append(out, test{"the capacitor's own waveform (thresholds and asymptotes)", "", 5, caution.Live, asymptotes, []float64{waveform, waveform, waveform}})
	}
	return append(out, test{"the same output with a second instrument", "", 3, caution.Live, func(v *circuit.Values) []float64 {
		return []float64{v[circuit.Clock]}
	}, []float64{counter}})
}

// again is what the times would be with a known capacitance in farad added across the timing capacitor; the
// instrument is the same, so its clock error stays.
func again(c *circuit.Circuit, slot circuit.Slot, added float64) func(v *circuit.Values) []float64 {
	return func(v *circuit.Values) []float64 {
		before, _, _ := c.Times(v)
		w := *v
		w[slot] += added
		high, low, ok := c.Times(&w)
		if !ok {
			return []float64{math.Inf(1), math.Inf(1)}
		}
		return []float64{math.Log(high / before), math.Log(low / before)}
	}
}

// asymptotes are what the capacitor's waveform shows: both thresholds, and where the charge is heading.
func asymptotes(v *circuit.Values) []float64 {
	head := 1.0
	if k := v[circuit.LeakRatio]; k > 0 {
		head = k / (1 + k)
	}
	return []float64{v[circuit.Upper], v[circuit.Upper] * v[circuit.Half], head}
}

// Rank lists the readings worth taking, the best first: most information a minute. explanation names, for each
// hypothesis of the result, the explanation it belongs to. Readings that would tell less than a fiftieth of a
// bit are left out.
func Rank(c *circuit.Circuit, nominal *circuit.Values, r *posterior.Result, explanation []string, most int) []compare.Next {
	var out []compare.Next
	for _, t := range tests(c, nominal) {
		bits := information(r, explanation, &t)
		if bits < 0.02 {
			continue
		}
		out = append(out, compare.Next{Reading: t.name, Part: t.part, Information: bits, Effort: t.effort, Caution: t.caution})
	}
	slices.SortStableFunc(out, func(a, b compare.Next) int {
		return cmp.Compare(b.Information/b.Effort, a.Information/a.Effort)
	})
	return out[:min(most, len(out))]
}

// cell is where a test's observations fall, each divided by its width.
type cell [3]int32

// information is the mutual information, in bits, between the explanation and what the test shows, from the
// weighted samples sorted into cells as wide as the test is accurate.
func information(r *posterior.Result, explanation []string, t *test) float64 {
	number, count := numbered(explanation)
	row := map[cell]int{}
	var weights []float64 // one row of count weights a cell, in the order in which cells appear
	whole := make([]float64, count)
	for i := range r.Samples {
		s := &r.Samples[i]
		var c cell
		for k, x := range t.observe(&s.Values) {
			c[k] = int32(max(min(math.Floor(x/(2*t.accuracy[k])), math.MaxInt32), math.MinInt32))
		}
		k, ok := row[c]
		if !ok {
			k = len(row)
			row[c] = k
			weights = append(weights, make([]float64, count)...)
		}
		weights[k*count+number[s.Hypothesis]] += s.Weight
		whole[number[s.Hypothesis]] += s.Weight
	}
	after := 0.0
	for k := range len(row) {
		after += entropy(weights[k*count : (k+1)*count])
	}
	return max(entropy(whole)-after, 0)
}

// numbered gives equal names equal numbers from 0.
func numbered(names []string) (number []int, count int) {
	seen := map[string]int{}
	for _, n := range names {
		k, ok := seen[n]
		if !ok {
			k = len(seen)
			seen[n] = k
		}
		number = append(number, k)
	}
	return number, len(seen)
}

// entropy of weights times their sum, in bits.
func entropy(w []float64) float64 {
	var sum float64
	for _, x := range w {
		sum += x
	}
	h := 0.0
	for _, x := range w {
		if p := x / sum; p > 0 {
			h -= p * math.Log2(p)
		}
	}
	return h * sum
}
