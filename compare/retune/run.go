package retune

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/posterior"
	"offbeat/fit/predict"
)

// ErrNoTarget says that there is nothing to tune to.
var ErrNoTarget = errors.New("nothing to tune to: the design has no target; expected a [target] such as frequency = \"138 Hz ± 3 %\"")

// Run proposes what to fit so that the board behind the evidence meets the design's target, the surest first, then
// those of fewer parts, then those in stock. The board left as it is stands among them where it may meet the target.
// It fails where the design has no target or the evidence no samples.
func Run(d *fit.Design, e *reconcile.Evidence, o Options) ([]compare.Proposal, error) {
	if o.Count <= 0 {
		o.Count = defaultCount
	}
	t := &tuner{circuit: e.Board.Circuit, parts: e.Board.Parts, limits: limitsOf(e.Board.Circuit, weakest(d)), options: o}
	if err := t.aim(d.Targets); err != nil {
		return nil, err
	}
	if t.boards = draw(e, boards, o.Seed); len(t.boards) == 0 {
		return nil, errors.New("the readings and the times contradict each other under every listed cause, so what the parts are is unknown; check the readings first")
	}
	for i := range t.middling.chance {
		t.middling.chance[i] = 0.5
	}
	var all []judged
	for _, k := range t.candidates(e) {
		all = append(all, judged{candidate: k, outcome: t.judge(t.boards[:glance], &k, nil)})
	}
	all = t.best(all, screen, 2)
	all = t.best(all[:min(len(all), finalists*o.Count)], boards, 1)
	return t.proposals(append(t.asDrawn(e), needed(all, o.Count)...)), nil
}

// Choose proposes what parts to take so that the design itself meets its target, before any board is measured: the boards
// are drawn from the parts' tolerances and the timer's priors.
func Choose(d *fit.Design, o Options) ([]compare.Proposal, error) {
	b, err := cause.NewBoard(d)
	if err != nil {
		return nil, err
	}
	drawn, err := predict.Draw(d, boards, o.Seed)
	if err != nil {
		return nil, err
	}
	e := &reconcile.Evidence{Board: b, Cases: []cause.Case{{Cause: cause.Nothing}}, Result: &posterior.Result{}}
	for i := range drawn {
		e.Result.Samples = append(e.Result.Samples, posterior.Sample{Values: &drawn[i], Weight: 1 / float64(boards)})
	}
	return Run(d, e, o)
}

// asDrawn is the repair: what the likeliest explanation blames, fitted as it is drawn; nothing where it blames no part.
func (t *tuner) asDrawn(e *reconcile.Evidence) []judged {
	share := map[string]float64{}
	best := ""
	var blamed *cause.Case
	for i := range e.Result.Outcomes {
		c := &e.Cases[i]
		key := cause.Key(c.Cause, c.Parts)
		if share[key] += e.Result.Outcomes[i].Probability; share[key] > share[best] {
			best, blamed = key, c
		}
	}
	if blamed == nil || len(blamed.Parts) == 0 || len(blamed.Parts) > maxMoves {
		return nil
	}
	var k candidate
	for i, p := range t.parts {
		if slices.Contains(blamed.Parts, p.Name) {
			back := move{part: i, how: replace, parts: []component{{value: p.Nominal, minus: p.Minus, plus: p.Plus, stock: t.inStock(p)}}}
			k.moves = append(k.moves, back)
		}
	}
	if resistors := t.circuit.Resistors(); len(k.moves) == 2 && len(blamed.Fitted) == 2 && len(resistors) == 2 {
		k = candidate{exchange: true}
	}
	return []judged{{candidate: k, outcome: t.judge(t.boards, &k, nil), drawn: true}}
}

// aim reads the target.
func (t *tuner) aim(targets []fit.Target) error {
	if len(targets) == 0 {
		return ErrNoTarget
	}
	for _, g := range targets {
		i := compare.PlaceOf(g.Quantity)
		if i < 0 || t.circuit.OnePulse && i > 0 {
			return fmt.Errorf("the %s circuit has no %q to tune to", t.circuit.Name, g.Quantity)
		}
		if !(g.Low > 0 && g.Low < g.High && g.Value >= g.Low && g.Value <= g.High) {
			return fmt.Errorf("target %s: limits %g … %g about %g; expected 0 < low <= value <= high and low < high", g.Quantity, g.Low, g.High, g.Value)
		}
		t.targets = append(t.targets, target{i, g.Value, g.Low, g.High, math.Log(g.High/g.Low) / 2})
	}
	return nil
}

// candidates lists everything worth a look.
func (t *tuner) candidates(e *reconcile.Evidence) []candidate {
	out := []candidate{{}}
	if len(t.circuit.Resistors()) == 2 {
		out = append(out, candidate{exchange: true})
	}
	views := t.views(e)
	for _, plan := range t.plans() {
		for _, view := range views {
			if len(plan) == 1 {
				out = append(out, t.single(view, plan)...)
			} else {
				out = append(out, t.double(view, plan)...)
			}
		}
	}
	if len(e.Result.Outcomes) == 0 { // no board is measured: every part is as drawn
		return out
	}
	return append(out, t.restored(views)...)
}

// views are the boards that wanted values are sought for: a few of all and, where an explanation stands out, a few of
// it alone, since a mean over two explanations may suit neither.
func (t *tuner) views(e *reconcile.Evidence) [][]board {
	var some []board
	share := map[int]int{}
	for _, b := range t.boards {
		if !b.unmodelled {
			some = append(some, b)
			share[b.group]++
		}
	}
	if len(some) == 0 {
		return nil
	}
	views := [][]board{some[:min(glance, len(some))]}
	for g := range len(e.Cases) {
		p := float64(share[g]) / float64(len(t.boards))
		if p < likely || p > certain {
			continue
		}
		var own []board
		for _, b := range some {
			if b.group == g && len(own) < glance {
				own = append(own, b)
			}
		}
		views = append(views, own)
	}
	return views
}

// single makes candidates of a plan for one part.
func (t *tuner) single(view []board, plan []move) []candidate {
	x, ok := t.solve(view, plan)
	if !ok {
		return nil
	}
	var out []candidate
	for _, m := range t.fittings(plan[0], x[0]) {
		out = append(out, candidate{moves: []move{m}})
	}
	return out
}

// double makes candidates of a plan for two parts: the first gets real components, the second is sought anew for each.
func (t *tuner) double(view []board, plan []move) []candidate {
	x, ok := t.solve(view, plan)
	if !ok {
		return nil
	}
	var out []candidate
	for _, first := range t.fittings(plan[0], x[0]) {
		if len(first.parts) == 2 && first.how == replace {
			continue // pairs in the places of two parts are four parts for what two do
		}
		then := []move{first, plan[1]}
		y, ok := t.solve(view, then)
		if !ok {
			continue
		}
		for _, second := range t.fittings(plan[1], y[1]) {
			out = append(out, candidate{moves: []move{first, second}})
		}
	}
	return out
}

// restored makes candidates that put a part's nominal value back, alone or with another part tuned beside it.
func (t *tuner) restored(views [][]board) []candidate {
	var out []candidate
	for i, p := range t.parts {
		back := move{part: i, how: replace, parts: []component{{value: p.Nominal, minus: p.Minus, plus: p.Plus}}}
		back.parts[0].stock = t.inStock(p)
		out = append(out, candidate{moves: []move{back}})
		for k := range t.parts {
			if k == i {
				continue
			}
			for _, h := range t.modesOf(k) {
				plan := []move{back, {part: k, how: h}}
				for _, view := range views {
					if x, ok := t.solve(view, plan); ok {
						for _, m := range t.fittings(plan[1], x[1]) {
							out = append(out, candidate{moves: []move{back, m}})
						}
					}
				}
			}
		}
	}
	return out
}

// inStock finds the stock item of a part's nominal value: its index plus 1, or 0.
func (t *tuner) inStock(p fit.Part) int {
	return 1 + slices.IndexFunc(t.options.Stock, func(it Item) bool {
		return it.Kind == p.Kind && !it.Trimmer && same(it.Value, p.Nominal)
	})
}

// judged is a candidate with its outcome.
type judged struct {
	candidate
	outcome
	drawn bool // it puts back what the drawing says
}

// kind tells candidates of one pattern: which parts change and how.
func (k *candidate) kind() string {
	var b strings.Builder
	if k.exchange {
		b.WriteString("exchange")
	}
	for _, m := range k.moves {
		fmt.Fprintf(&b, "%d %d %s %d;", m.part, m.how, m.topology, len(m.parts))
	}
	return b.String()
}

// newParts counts the components to fit.
func (k *candidate) newParts() int {
	n := 0
	for _, m := range k.moves {
		if m.how != turn {
			n += len(m.parts)
		}
	}
	return n
}

// best judges the candidates again over n boards and keeps the most of each kind, in order.
func (t *tuner) best(all []judged, n, most int) []judged {
	slices.SortStableFunc(all, t.order)
	taken := map[string]int{}
	var out []judged
	// Twice as many as are kept get judged: the order so far comes from fewer boards.
	for _, j := range all {
		if key := j.kind(); taken[key] < 2*most {
			taken[key]++
			j.outcome = t.judge(t.boards[:min(n, len(t.boards))], &j.candidate, nil)
			out = append(out, j)
		}
	}
	slices.SortStableFunc(out, t.order)
	clear(taken)
	kept := out[:0]
	for _, j := range out {
		if key := j.kind(); taken[key] < most {
			taken[key]++
			kept = append(kept, j)
		}
	}
	return kept
}

// needed leaves out what changes more than it must: all the parts that a candidate before it changes and others, what
// stands there already, and what is no surer than to leave the board as it is.
func needed(all []judged, most int) []judged {
	var out []judged
	for _, j := range all {
		more := func(o judged) bool {
			return len(o.moves) > 0 && len(o.moves) < len(j.moves) && j.covers(&o.candidate) || o.same(&j.candidate)
		}
		if len(out) < most && !slices.ContainsFunc(out, more) {
			out = append(out, j)
			if len(j.moves) == 0 && !j.exchange { // what comes after it is no surer, and is work
				break
			}
		}
	}
	return out
}

// covers says whether k changes every part that o changes.
func (k *candidate) covers(o *candidate) bool {
	for _, m := range o.moves {
		if !slices.ContainsFunc(k.moves, func(n move) bool { return n.part == m.part }) {
			return false
		}
	}
	return true
}

// order ranks: the surer, the fewer new parts, those in stock, the coarser series, the nearer to the target's middle.
func (t *tuner) order(a, b judged) int {
	return cmp.Or(
		-cmp.Compare(step(a.inTarget), step(b.inTarget)),
		cmp.Compare(a.newParts(), b.newParts()),
		cmp.Compare(t.missing(&a.candidate), t.missing(&b.candidate)),
		cmp.Compare(a.rank(), b.rank()),
		cmp.Compare(a.miss, b.miss),
	)
}

func (k *candidate) rank() int {
	r := 0
	for _, m := range k.moves {
		for _, c := range m.parts {
			r += c.rank
		}
	}
	return r
}

// missing counts the components that are not in stock, or not often enough.
func (t *tuner) missing(k *candidate) int {
	used, n := map[int]int{}, 0
	for _, m := range k.moves {
		for _, c := range m.parts {
			if m.how == turn {
				continue
			}
			if c.stock == 0 {
				n++
				continue
			}
			used[c.stock]++
			if have := t.options.Stock[c.stock-1].Count; have > 0 && used[c.stock] > have {
				n++
			}
		}
	}
	return n
}

// step rounds a probability down to what the Monte Carlo can tell apart: a percent, above 99 % a tenth of one.
func step(p float64) float64 {
	const hair = 1e-9
	if p >= 0.99 {
		return math.Min(math.Floor(p*1000+hair)/1000, 0.999)
	}
	return math.Floor(p*100+hair) / 100
}

// worthwhile is the probability below which a proposal is left out.
const worthwhile = 0.05

func (t *tuner) proposals(all []judged) []compare.Proposal {
	out := []compare.Proposal{}
	for _, j := range all {
		if j.drawn && j.inTarget < worthwhile { // the repair alone would not do
			continue
		}
		if len(out) >= t.options.Count || j.inTarget < worthwhile {
			break
		}
		if len(out) > 0 && out[0].AsDrawn && j.same(&all[0].candidate) {
			continue
		}
		bands, o := t.bands(t.boards, &j.candidate)
		p := compare.Proposal{
			Changes:   t.changes(t.boards[:screen], &j.candidate, o.setting),
			Predicted: bands,
			InTarget:  step(o.inTarget),
			Foretold:  o.foretold,
			NewParts:  j.newParts(),
			Caution:   t.cautions(&j.candidate),
			AsDrawn:   j.drawn,
		}
		if t.options.Stock != nil {
			have := t.missing(&j.candidate) == 0
			p.InStock = &have
		}
		out = append(out, p)
	}
	return out
}

// same says whether two candidates put the same components in the same places, in whatever order.
func (k *candidate) same(o *candidate) bool {
	alike := func(a, b move) bool {
		return a.part == b.part && a.how == b.how && slices.EqualFunc(a.parts, b.parts, func(x, y component) bool { return same(x.value, y.value) })
	}
	return k.exchange == o.exchange && len(k.moves) == len(o.moves) && !slices.ContainsFunc(k.moves, func(a move) bool {
		return !slices.ContainsFunc(o.moves, func(b move) bool { return alike(a, b) })
	})
}
