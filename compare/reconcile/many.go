package reconcile

import (
	"context"
	"sync"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/posterior"
	"offbeat/fit/predict"
)

// Many judges many boards of one design, which share what their times alone do not change. Several goroutines may use it at
// once.
type Many struct {
	design    *fit.Design
	predicted *predict.Result
	guard     sync.Mutex
	common    map[likeness]*common
}

// likeness is what captures have in common besides their times.
type likeness struct {
	clock, interval float64
	inverted, ramps bool
}

// common is the problem of one likeness, posed once.
type common struct {
	once   sync.Once
	solved *solved
	boards *posterior.Boards
	err    error
}

// mostCommon bounds the likenesses that are remembered; those of a lot are few.
const mostCommon = 16

// NewMany begins with a design. It fails as predict.Run does.
func NewMany(d *fit.Design) (*Many, error) {
	p, err := predict.Run(d)
	return &Many{design: d, predicted: p, common: map[likeness]*common{}}, err
}

// Brief is Run for one board: it leaves out the groups and the next readings, which a lot does not print. It stops with its
// context.
func (m *Many) Brief(ctx context.Context, ms []*fit.Measurement) (*compare.Finding, error) {
	f, _, err := solve(m.design, observed(ms), asked{ctx: ctx, brief: true, predicted: m.predicted, many: m})
	return f, err
}

// pose is posed for a board of many: nil where it has settings of its own.
func (m *Many) pose(b *cause.Board, set []setting) (*solved, error) {
	if len(set) != 1 || len(set[0].conditions) > 0 || len(set[0].waves) > 0 || len(m.design.Stills) > 0 {
		return nil, nil
	}
	captured(b, set)
	k := likeness{set[0].clock, b.Aliased(), b.Inverted, b.Ramps}
	m.guard.Lock()
	a := m.common[k]
	if a == nil {
		if len(m.common) >= mostCommon {
			clear(m.common)
		}
		a = &common{}
		m.common[k] = a
	}
	m.guard.Unlock()
	a.once.Do(func() {
		if a.solved, a.err = posed(b, set, nil); a.err == nil {
			a.boards = posterior.NewBoards(a.solved.problem, hypotheses(a.solved.cases))
		}
	})
	if a.err != nil || a.boards == nil {
		return nil, a.err
	}
	s, p := *a.solved, *a.solved.problem
	p.Data = []posterior.Datum{datum(b.Circuit, set[0].merged)}
	s.problem, s.boards = &p, a.boards
	return &s, nil
}
