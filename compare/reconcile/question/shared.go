package question

import (
	"sync"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/posterior"
)

// Shared is what many boards of one design have in common. Several goroutines may use it at once.
type Shared struct {
	design *fit.Design
	guard  sync.Mutex
	common map[likeness]*common
}

func NewShared(d *fit.Design) *Shared { return &Shared{design: d, common: map[likeness]*common{}} }

// likeness is what captures have in common besides their times.
type likeness struct {
	clock, interval float64
	inverted, ramps bool
}

// common is the problem of one likeness, posed once.
type common struct {
	once   sync.Once
	Of     *Question
	boards *posterior.Boards
	err    error
}

// mostCommon bounds the likenesses that are remembered; those of a lot are few.
const mostCommon = 16

// Pose is Of for one of the boards: nil where it has settings of its own.
func (m *Shared) Pose(b *cause.Board, set []Setting) (*Question, error) {
	if len(set) != 1 || len(set[0].Conditions) > 0 || len(set[0].Waves) > 0 || len(m.design.Stills) > 0 {
		return nil, nil
	}
	captured(b, set)
	k := likeness{set[0].Clock, b.Aliased(), b.Inverted, b.Ramps}
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
		if a.Of, a.err = Of(b, set, nil); a.err == nil {
			a.boards = posterior.NewBoards(a.Of.Problem, Hypotheses(a.Of.Cases))
		}
	})
	if a.err != nil || a.boards == nil {
		return nil, a.err
	}
	q, p := *a.Of, *a.Of.Problem
	p.Data = []posterior.Datum{datum(b.Circuit, set[0].Merged)}
	q.Problem, q.boards = &p, a.boards
	return &q, nil
}
