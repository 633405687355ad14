package cli

import (
	"context"
	"encoding/json"
	"os"
	"reflect"
	"slices"
	"sync"
	"testing"

	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
)

// asked is a question to the back-solve and its answer, as they were then.
type asked struct {
	design  *fit.Design
	obs     []question.Observation
	earlier *compare.Finding
	finding *compare.Finding
	found   string // the finding's JSON
	behind  *reconcile.Evidence
}

// solvedOnce answers a question that was asked before, to the last bit of it, with the answer that was given then: most commands
// of these tests differ in what they print. An answer that somebody has changed since is not given again.
func solvedOnce() func(context.Context, *fit.Design, []question.Observation, *compare.Finding) (*compare.Finding, *reconcile.Evidence, error) {
	var lock sync.Mutex
	kept := map[string][]*asked{}
	return func(ctx context.Context, d *fit.Design, obs []question.Observation, earlier *compare.Finding) (*compare.Finding, *reconcile.Evidence, error) {
		key, err := json.Marshal([]any{d, obs, earlier}) // what has no such form is not kept
		if err != nil {
			return reconcile.SolveUntil(ctx, d, obs, earlier)
		}
		lock.Lock()
		before := kept[string(key)]
		lock.Unlock()
		for _, a := range before {
			if found, err := json.Marshal(a.finding); err == nil && string(found) == a.found && reflect.DeepEqual([]any{a.design, a.obs, a.earlier}, []any{d, obs, earlier}) {
				f := *a.finding
				f.Warnings = slices.Clone(f.Warnings)
				return &f, a.behind, nil
			}
		}
		f, e, err := reconcile.SolveUntil(ctx, d, obs, earlier)
		if err != nil {
			return f, e, err
		}
		own := *f
		own.Warnings = slices.Clone(f.Warnings)
		if found, err := json.Marshal(&own); err == nil {
			lock.Lock()
			defer lock.Unlock()
			kept[string(key)] = append(kept[string(key)], &asked{d, obs, earlier, &own, string(found), e})
		}
		return f, e, nil
	}
}

func TestMain(m *testing.M) {
	solveUntil = solvedOnce()
	os.Exit(m.Run())
}
