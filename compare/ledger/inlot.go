package ledger

import (
	"encoding/json"
	"time"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot"
)

// InLot is the result of a board that was judged against the others of its lot; nil says that it does not stand out.
func (v *Visit) InLot(a *lot.Apart) *Visit {
	if a == nil {
		return v
	}
	in, verdict := *v, compare.Verdict{Result: v.Verdict}
	if v.Judgement != nil {
		verdict = *v.Judgement
	}
	in.Whole, in.Alone = nil, &Alone{v.Key, v.Finding, v.Causes}
	in.blame(a.Finding(v.Finding, &verdict), a.Causes)
	return &in
}

// Supersede makes the result one that takes the place of another of the same board and captures. It says false where the
// other names the same causes.
func (v *Visit) Supersede(now *Visit) (*Visit, bool, error) {
	text := func(v *Visit) ([]byte, error) { return json.Marshal([]any{v.Finding, v.Causes}) }
	a, err := text(v)
	if err != nil {
		return nil, false, err
	}
	b, err := text(now)
	if err != nil || string(a) == string(b) {
		return nil, false, err
	}
	next := *v
	if next.Alone == nil { // it no longer stands out
		next.Alone = &Alone{v.Key, v.Finding, v.Causes}
	}
	next.Key, next.Recorded = Digest(append([]byte(now.Key), a...)), time.Now()
	if !next.Recorded.After(now.Recorded) { // another station's clock is ahead
		next.Recorded = now.Recorded.Add(time.Microsecond)
	}
	return &next, true, nil
}

// CauseTitle is the likeliest cause, as it is said of the board alone or against the others.
func (v *Visit) CauseTitle() string {
	title := cause.Title(v.Cause, v.CauseParts)
	if v.Alone != nil && v.Alone.Finding != v.Finding {
		return lot.AgainstOthers(title)
	}
	return title
}
