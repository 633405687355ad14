package reconcile

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/caution"
	"offbeat/compare/nextreading"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/reconcile/trace"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// untaken leaves out of the advice what has been done, and keeps the best few of the rest.
func untaken(next []compare.Next, w *compare.Waveform) []compare.Next {
	if w != nil {
		next = slices.DeleteFunc(next, func(n compare.Next) bool { return n.Kind == nextreading.Waveform })
	}
	return next[:min(len(next), suggestions)]
}

// unloadedWarnings says where the verdict is of the board without the probe that every capture has.
func (s *solved) unloadedWarnings(f *compare.Finding, set []question.Setting) []string {
	if len(f.Verdict.Each) == 0 || question.Own(set) != nil {
		return nil
	}
	return []string{"the verdict is of the board without the probe: its times are computed from those measured with it"}
}

// waveWarnings is what should be known before the capacitor's waveform is believed.
func (s *solved) waveWarnings(f *compare.Finding, d *fit.Design, obs []question.Observation, set []question.Setting) []string {
	var out []string
	c := s.Board.Circuit
	some := false
	for i := range obs {
		w := obs[i].Waveform
		if w == nil {
			continue
		}
		some = true
		if w.Inverted {
			out = append(out, obs[i].Measurement.Source+": the capacitor charges while the output is low, which it does in none of the circuits: the output's channel is inverted (--invert), or one of the channels shows another node; its waveform is left out")
		}
	}
	if !some {
		return nil
	}
	if !trace.Tells(c) {
		return append(out, fmt.Sprintf("what the capacitor's waveform tells of the parts is not known in the %s circuit; it is shown, and not used", c.Name))
	}
	if c.Bends {
		out = append(out, "the charge runs through a diode, whose drop falls with its current: of the waveform the thresholds and the discharge are used")
	}
	if _, notes, err := question.WaveFacts(d, c, &s.Problem.Base, set, len(question.Facts(obs))); err == nil {
		out = append(out, notes...)
	}
	if f.Waveform != nil {
		out = append(out, f.Waveform.Notes...)
	}
	if poor := s.poorFit(f); poor != "" {
		out = append(out, poor)
	}
	return append(out, s.probeWarnings(obs, set)...)
}

// poor is the chance below which what the likeliest cause makes of the waveform counts as no fit.
const poor = 1e-3

// poorFit says that even the likeliest cause does not meet the waveform: of its boards, the misfits of the facts and of
// the thresholds against the timer's own spread are larger than chance makes them.
func (s *solved) poorFit(f *compare.Finding) string {
	top := cause.Key(f.Causes[0].Cause, f.Causes[0].Parts)
	var squares, weight float64
	var count int
	explanations := s.explanations()
	for i := range s.result.Samples {
		q := &s.result.Samples[i]
		if explanations[q.Hypothesis] != top {
			continue
		}
		sum, n := s.strain(q, &s.Cases[q.Hypothesis])
		squares, weight, count = squares+q.Weight*sum, weight+q.Weight, max(count, n)
	}
	if weight == 0 || count == 0 || f.Causes[0].Cause == cause.Unexplained || (distuv.ChiSquared{K: float64(count)}).Survival(squares/weight) > poor {
		return ""
	}
	return fmt.Sprintf("even the likeliest cause meets the capacitor's waveform poorly (misfit %.0f, where %d is usual): something more is wrong than one listed cause, such as two faults at once; compare the thresholds, asymptotes and time constants with what the board should have", squares/weight, count)
}

// strain is the sum of the squared misfits of a sample, in standard uncertainties, and their number.
func (s *solved) strain(q *posterior.Sample, k *cause.Case) (sum float64, n int) {
	for _, f := range s.Problem.Facts {
		if f.Under == 0 {
			continue
		}
		v := q.Values
		if adjust := s.Problem.Data[f.Under-1].Adjust; adjust != nil && s.Changed == nil {
			changed := *v
			adjust(&changed, q.Extra)
			v = &changed
		}
		z := (f.Of(v) - f.Value) / f.Standard
		sum, n = sum+z*z, n+1
	}
	for _, v := range s.Problem.Nuisance {
		own := func(o posterior.Variable) bool { return o.Slot == v.Slot }
		fixed := func(o posterior.Fixed) bool { return o.Slot == v.Slot }
		if v.Slot != circuit.Upper && v.Slot != circuit.Half || slices.ContainsFunc(k.Override, own) || slices.ContainsFunc(k.Fixed, fixed) {
			continue
		}
		middle := v.Density.Quantile(0.5)
		z := (q.Values[v.Slot] - middle) / (v.Density.Quantile(0.8413) - middle)
		sum, n = sum+z*z, n+1
	}
	return sum, n
}

// A probe that nobody mentioned (common practice: a passive probe divides by ten), and the relative change of a time
// from which its load is worth a word.
const (
	probeOhm   = 10e6
	probeFarad = 12e-12
	probeSeen  = 0.01
)

// probeWarnings says where a probe on the capacitor would load it and no condition says that one does.
func (s *solved) probeWarnings(obs []question.Observation, set []question.Setting) []string {
	c := s.Board.Circuit
	slot := c.Capacitor()
	if slot < 0 {
		return nil
	}
	name := c.Parts[slot].Name
	said := func(s question.Setting) bool {
		return slices.ContainsFunc(s.Conditions, func(k fit.Condition) bool {
			return k.Kind == fit.Bypassed || k.Kind == fit.ToGround || k.Kind == fit.StrayTo || k.Kind == fit.InParallel && k.Part == name
		})
	}
	if !slices.ContainsFunc(set, func(s question.Setting) bool { return len(s.Waves) > 0 && !said(s) }) {
		return nil
	}
	typical := s.Problem.Base
	loaded := typical
	loaded[slot] += probeFarad
	charging := c.Charging(&typical)
	conductance := 1 / probeOhm
	if k := typical[circuit.LeakRatio]; k != 0 {
		conductance += 1 / (k * charging)
	}
	loaded[circuit.LeakRatio] = 1 / (conductance * charging)
	h0, l0, ok0 := c.Times(&typical)
	h1, l1, ok1 := c.Times(&loaded)
	change := max(math.Abs(h1/h0-1), math.Abs(l1/l0-1))
	if !ok0 || ok1 && change < probeSeen {
		return nil
	}
	load := "changes the times by up to " + quantity.Relative(change)
	if !ok1 {
		load = "keeps the circuit from running"
	}
	return []string{fmt.Sprintf("the probe on %s loads it: one of %s and %s %s in this circuit. Say what probe it was, before the capture: --with \"%s || 10M\" --with \"%s || 12p\"",
		name, quantity.Format(probeOhm, quantity.Ohm), quantity.Format(probeFarad, quantity.Farad), load, name, name)}
}

// unsaid puts first the probe that nobody has told of, where the likeliest cause is one that a probe at the node makes too.
func (s *solved) unsaid(f *compare.Finding, obs []question.Observation, set []question.Setting) {
	top := &f.Causes[0]
	made := slices.ContainsFunc(cause.Of(top.Cause, top.Parts).Shows, func(w cause.Show) bool { return w.Look == "timing node" })
	if !made || len(s.probeWarnings(obs, set)) == 0 {
		return
	}
	name := s.Board.Circuit.Parts[s.Board.Circuit.Capacitor()].Name
	say := compare.Next{Reading: fmt.Sprintf("Say what probe was on %s, which loads it too, and read the capture again", name), Kind: nextreading.Check, Part: name, Effort: 1,
		Caution: caution.Live, Enter: fmt.Sprintf(`--with "%s || 10M" --with "%s || 12p" %s`, name, name, newCapture)}
	f.Next = append([]compare.Next{say}, f.Next...)
}

// waveformOf puts the first setting's waveform into the JSON's form.
func waveformOf(b *circuit.Circuit, typical *circuit.Values, d *fit.Design, set []question.Setting) (*compare.Waveform, error) {
	for i := range set {
		if len(set[i].Waves) == 0 {
			continue
		}
		supply := set[i].Supply(d.Supply)
		n, err := trace.Of(d, set[i].Waves, supply.Value, typical)
		if err != nil {
			return nil, err
		}
		f := n.Finding(supply, set[i].Clock)
		f.Cycles = n.Cycles
		for _, w := range set[i].Waves {
			f.Residual = max(f.Residual, w.Residual)
			f.Notes = append(f.Notes, w.Notes...)
		}
		if trace.Tells(b) {
			at := *d
			at.Supply = supply
			n.Faults(f, b, &at, typical, set[i].Probe())
		}
		if !n.Plausible {
			f.Notes = append(f.Notes, trace.Implausible)
		}
		return f, nil
	}
	return nil, nil
}
