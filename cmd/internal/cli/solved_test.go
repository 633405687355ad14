package cli

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"offbeat/acquire"
	"offbeat/compare"
	"offbeat/compare/lot"
	"offbeat/compare/lot/hierarchy"
	"offbeat/compare/reconcile"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/retune"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/waveform"
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

// digest tells apart all that values hold, what they point to and keep to themselves; functions apart, and the law of a design.
func digest(values ...any) string {
	h := sha256.New()
	met := map[uintptr]bool{}
	var tell func(v reflect.Value)
	tell = func(v reflect.Value) {
		switch k := v.Kind(); {
		case !v.IsValid() || k == reflect.Func || v.Type() == reflect.TypeFor[*hierarchy.Model]():
		case k == reflect.Pointer:
			if fmt.Fprint(h, "*", v.IsNil()); !v.IsNil() && !met[v.Pointer()] {
				met[v.Pointer()] = true
				tell(v.Elem())
			}
		case k == reflect.Interface:
			tell(v.Elem())
		case k == reflect.Struct:
			fmt.Fprintf(h, "%v{", v.Type())
			for i := range v.NumField() {
				tell(v.Field(i))
			}
		case k == reflect.Slice || k == reflect.Array:
			fmt.Fprintf(h, "[%d]", v.Len())
			for i := range v.Len() {
				tell(v.Index(i))
			}
		case k == reflect.Map:
			keys := v.MapKeys()
			slices.SortFunc(keys, func(a, b reflect.Value) int { return strings.Compare(fmt.Sprint(a), fmt.Sprint(b)) })
			for _, key := range keys {
				tell(key)
				tell(v.MapIndex(key))
			}
		default:
			fmt.Fprintf(h, "%q,", fmt.Sprint(v))
		}
	}
	for _, v := range values {
		tell(reflect.ValueOf(v))
	}
	return string(h.Sum(nil))
}

// keptOf gives what a question was answered with before, unless somebody has changed it since.
type keptOf[T any] struct {
	lock sync.Mutex
	all  map[string]T
	then map[string]string // the answers' digests
}

func (k *keptOf[T]) answer(question string, solve func() (T, error)) (T, error) {
	k.lock.Lock()
	before, ok := k.all[question]
	ok = ok && digest(before) == k.then[question]
	k.lock.Unlock()
	if ok {
		return before, nil
	}
	now, err := solve()
	if err == nil {
		k.lock.Lock()
		defer k.lock.Unlock()
		k.all[question], k.then[question] = now, digest(now)
	}
	return now, err
}

func newKept[T any]() *keptOf[T] { return &keptOf[T]{all: map[string]T{}, then: map[string]string{}} }

// decided is a lot's report and what its making left in the collector.
type decided struct {
	report *lot.Report
	after  lot.Collector
}

// lotsOnce has a board judged and a lot decided on once, as solvedOnce does for findings.
func lotsOnce() {
	boards, lots := newKept[*compare.Finding](), newKept[decided]()
	anew := judgeBoard
	judgeBoard = func(ctx context.Context, r *lot.Reconciler, d *fit.Design, b *lot.Board, ms []*fit.Measurement) (*compare.Finding, error) {
		f, err := boards.answer(digest(d, b.Design(d), ms), func() (*compare.Finding, error) { return anew(ctx, r, d, b, ms) })
		if err != nil {
			return nil, err
		}
		own := *f
		own.Warnings = slices.Clone(f.Warnings)
		return &own, nil
	}
	decideLot = func(c *lot.Collector, opt lot.Options) (*lot.Report, error) {
		a, err := lots.answer(digest(c, opt), func() (decided, error) {
			r, err := c.Report(opt)
			return decided{r, *c}, err
		})
		if err != nil {
			return nil, err
		}
		own := *a.report
		own.Warnings = slices.Clone(own.Warnings)
		*c = a.after
		return &own, nil
	}
}

// drained reads a capture to its end; its digest tells apart what it holds, evidence apart, and again gives it as it was.
func drained(c *acquire.Capture) (held string, again *acquire.Capture) {
	var blocks []acquire.Block
	var b acquire.Block
	var end error
	h := sha256.New()
	numbers := func(from []float64) []float64 {
		for _, v := range from {
			h.Write(binary.LittleEndian.AppendUint64(nil, math.Float64bits(v)))
		}
		return slices.Clone(from)
	}
	for end = c.Read(&b); end == nil; end = c.Read(&b) {
		own := acquire.Block{First: b.First, Time: numbers(b.Time), N: b.N}
		for _, v := range b.Value {
			own.Value = append(own.Value, numbers(v))
		}
		fmt.Fprint(h, own.First, own.N, own.Time == nil, len(own.Value))
		blocks = append(blocks, own)
	}
	meta := *c
	meta.Evidence = nil
	return digest(meta, end.Error(), string(h.Sum(nil))), acquire.NewCapture(*c, func(b *acquire.Block) error {
		if len(blocks) == 0 {
			return end
		}
		*b, blocks = blocks[0], blocks[1:]
		return nil
	})
}

// measuredOnce has a capture measured, its waveform fitted and a board retuned once, as solvedOnce does for findings.
func measuredOnce() {
	measured, fitted, tuned := newKept[*fit.Measurement](), newKept[*waveform.Result](), newKept[[]compare.Proposal]()
	measureRun = func(c *acquire.Capture, opt measure.Options) (*fit.Measurement, error) {
		held, c := drained(c)
		return measured.answer(held+digest(opt), func() (*fit.Measurement, error) { return measure.Run(c, opt) })
	}
	fitWaveform = func(c *acquire.Capture, opt waveform.Options) (*waveform.Result, error) {
		held, c := drained(c)
		return fitted.answer(held+digest(opt), func() (*waveform.Result, error) { return waveform.Fit(c, opt) })
	}
	retuneRun = func(d *fit.Design, e *reconcile.Evidence, opt retune.Options) ([]compare.Proposal, error) {
		return tuned.answer(fmt.Sprintf("%p", e)+digest(d, opt), func() ([]compare.Proposal, error) { return retune.Run(d, e, opt) })
	}
}

func TestMain(m *testing.M) {
	widePages()
	solveUntil = solvedOnce()
	lotsOnce()
	measuredOnce()
	os.Exit(m.Run())
}
