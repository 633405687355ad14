package ledger

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"time"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot"
)

// Alone is what a board's own times say of it, and the key of that result.
type Alone struct {
	Key     string          `json:"key"`
	Finding string          `json:"finding"`
	Causes  []compare.Cause `json:"causes"`
}

// leastKept is the probability from which a cause is kept.
const leastKept = 0.001

func kept(all []compare.Cause) (out []compare.Cause) {
	for _, c := range all {
		if c.Probability >= leastKept {
			out = append(out, c)
		}
	}
	return out
}

// blame sets the finding and its causes.
func (v *Visit) blame(finding string, causes []compare.Cause) {
	v.Finding, v.Causes = finding, kept(causes)
	if len(causes) > 0 {
		v.Cause, v.CauseParts, v.Probability = causes[0].Cause, causes[0].Parts, causes[0].Probability
	}
}

// Own is the result as the board's own times have it.
func (v *Visit) Own() *Visit {
	if v.Alone == nil {
		return v
	}
	o := *v
	o.Key, o.Alone = v.Alone.Key, nil
	o.blame(v.Alone.Finding, v.Alone.Causes)
	return &o
}

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

// supersede makes the result one that takes the place of another of the same board and captures. It says false where the
// other names the same causes.
func (v *Visit) supersede(now *Visit) (*Visit, bool, error) {
	text := func(v *Visit) ([]byte, error) { return json.Marshal([]any{v.Finding, v.Causes}) }
	a, err := text(v)
	if err != nil {
		return nil, false, err
	}
	b, err := text(now)
	if err != nil || string(a) == string(b) {
		return nil, false, err
	}
	sum := sha256.Sum256(append([]byte(now.Key), a...))
	next := *v
	if next.Alone == nil { // it no longer stands out
		next.Alone = &Alone{v.Key, v.Finding, v.Causes}
	}
	next.Key, next.Recorded = hex.EncodeToString(sum[:]), time.Now()
	if !next.Recorded.After(now.Recorded) { // another station's clock is ahead
		next.Recorded = now.Recorded.Add(time.Microsecond)
	}
	return &next, true, nil
}

// Judged writes down what a board is against the others of its lot, where the ledger has it otherwise: a newer result of the
// same board, beside that of its own times, which Record wrote.
func (t *Station) Judged(ctx context.Context, own *Visit, a *lot.Apart) error {
	now := t.current(own.Key)
	if now == nil {
		now = own
	}
	next, changed, err := own.InLot(a).supersede(now)
	if err != nil || !changed {
		return err
	}
	_, err = t.record(ctx, next)
	return err
}

// CauseTitle is the likeliest cause, as it is said of the board alone or against the others.
func (v *Visit) CauseTitle() string {
	title := cause.Title(v.Cause, v.CauseParts)
	if v.Alone != nil && v.Alone.Finding != v.Finding {
		return lot.AgainstOthers(title)
	}
	return title
}

// current is the result that stands for a board in place of the one with that key, as far as it was seen; nil: that one.
func (t *Station) current(key string) *Visit {
	t.guard.Lock()
	defer t.guard.Unlock()
	return t.newer[key]
}

// Seen remembers that a result against the others stands for a board.
func (t *Station) Seen(v *Visit) {
	if v.Alone == nil {
		return
	}
	t.guard.Lock()
	t.newer[v.Alone.Key] = v
	t.guard.Unlock()
}
