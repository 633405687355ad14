package reconcile

import (
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/caution"
	"offbeat/compare/nextreading"
	"offbeat/compare/verdict"
	"offbeat/fit"
)

// newCapture stands in a command for a capture that is yet to be taken, in place of those there are.
const newCapture = "NEW.csv"

// settled turns the advice from readings to the repair and the check after it, once one cause leads by the user's own
// threshold; where that cause is that nothing is wrong, nothing is left to do but to fit other parts if the board is off
// target, nor on a board on target of which that is merely the likeliest.
func (s *solved) settled(f *compare.Finding, d *fit.Design) {
	threshold := sure
	if d.Settled > 0 {
		threshold = d.Settled
	}
	top := &f.Causes[0]
	sound := top.Cause == cause.Nothing && f.Verdict.Result == verdict.Pass
	if top.Probability < threshold && !sound || s.result.Status.Impossible || top.Cause == cause.Unexplained {
		return
	}
	if cause.Of(top.Cause, top.Parts).Blind {
		f.Next = f.Next[:min(1, len(f.Next))]
		return
	}
	f.Next = []compare.Next{}
	if top.Cause == cause.Nothing && f.Verdict.Result == verdict.Fail {
		f.Next = append(f.Next, compare.Next{Reading: "Nothing is to be repaired: see what to fit for the target", Kind: nextreading.Refit, Effort: 1, Caution: caution.Change, Enter: "retune"})
	}
	repair := cause.Repair(top.Cause, top.Parts)
	if repair == "" {
		return
	}
	care, part := caution.Change, ""
	for _, name := range top.Parts {
		if p := d.Part(name); p != nil && p.Kind == fit.Capacitor {
			care = caution.Change + " " + caution.Polarity
		}
		if len(top.Parts) == 1 {
			part = name
		}
	}
	f.Next = append(f.Next,
		compare.Next{Reading: repair, Kind: nextreading.Repair, Part: part, Effort: 5, Caution: care},
		compare.Next{Reading: "Capture again and check that it is gone", Kind: nextreading.Check, Effort: s.bench().Minutes(2), Caution: caution.Live, Enter: newCapture})
}
