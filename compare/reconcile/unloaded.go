package reconcile

import (
	"math"

	"offbeat/compare/reconcile/question"
	"offbeat/fit"
)

// largestProbe is what a probe with its cable adds at most, in farad (common practice).
const largestProbe = 1e-9

// probed says whether the setting is the design's own but for a probe on its capacitor.
func (s *solved) probed(set *question.Setting) bool {
	bypassed := false
	for _, k := range set.Conditions {
		slot, ok := s.Board.Circuit.Slot(k.Part)
		switch {
		case k.Kind == fit.Bypassed, k.Kind == fit.ToGround:
			bypassed = true
		case k.Kind == fit.StrayTo && k.Known.Value <= largestProbe:
		case k.Kind == fit.InParallel && ok && s.Board.Parts[slot].Kind == fit.Capacitor && k.Known.Value <= largestProbe:
		default:
			return false
		}
	}
	return bypassed
}

// unloaded is what a board would show without the probe that lies across its capacitor in the first setting: the
// measured times, times what the probe changes in the boards that explain them. nil where the setting is another one.
func (s *solved) unloaded(set []question.Setting) *fit.Measurement {
	if s.Changed != nil || !s.probed(&set[0]) {
		return nil
	}
	c, adjust := s.Board.Circuit, s.Problem.Data[0].Adjust
	var sum, high, low, hh, hl, ll float64
	for i := range s.result.Samples {
		p := &s.result.Samples[i]
		with := *p.Values
		adjust(&with, p.Extra)
		hypothesis := &s.Cases[p.Hypothesis].Hypothesis
		h0, l0, bare := hypothesis.Times(c, p.Values)
		h1, l1, loaded := hypothesis.Times(c, &with)
		if !bare || !loaded {
			continue
		}
		h, l, w := math.Log(h0/h1), math.Log(l0/l1), p.Weight
		sum, high, low = sum+w, high+w*h, low+w*l
		hh, hl, ll = hh+w*h*h, hl+w*h*l, ll+w*l*l
	}
	if sum == 0 {
		return nil
	}
	high, low = high/sum, low/sum
	hh, hl, ll = max(hh/sum-high*high, 0), hl/sum-high*low, max(ll/sum-low*low, 0)
	m := *set[0].Merged
	kh, kl := math.Exp(high), math.Exp(low)
	m.High.Value, m.High.Uncertainty = kh*m.High.Value, kh*math.Hypot(m.High.Uncertainty, m.High.Value*math.Sqrt(hh))
	m.Covariance = kh * kl * (m.Covariance + set[0].Merged.High.Value*set[0].Merged.Low.Value*hl)
	m.Low.Value, m.Low.Uncertainty = kl*m.Low.Value, kl*math.Hypot(m.Low.Uncertainty, m.Low.Value*math.Sqrt(ll))
	return &m
}
