package lot

import (
	"context"
	"fmt"
	"sync"

	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/fit"
)

// remembered is how many conditions of boards a Reconciler keeps at hand: those of a lot are few, or all different.
const remembered = 16

// Reconciler judges the boards of one design. Several goroutines may use it at once.
type Reconciler struct {
	design *fit.Design

	guard sync.Mutex
	same  map[string]*reconcile.Many // by what the boards' own supply and readings make of the design
}

// NewReconciler begins with a design.
func NewReconciler(d *fit.Design) *Reconciler {
	return &Reconciler{design: d, same: map[string]*reconcile.Many{}}
}

// Board judges one board by its measurements: a Finding without what a lot does not print. It fails as reconcile.Run does,
// and with its context.
func (r *Reconciler) Board(ctx context.Context, b *Board, ms []*fit.Measurement) (*compare.Finding, error) {
	own := b.Design(r.design)
	key := fmt.Sprint(own.Supply, own.Readings)
	r.guard.Lock()
	m := r.same[key]
	r.guard.Unlock()
	if m == nil {
		var err error
		if m, err = reconcile.NewMany(own); err != nil {
			return nil, err
		}
		r.guard.Lock()
		if o := r.same[key]; o != nil {
			m = o
		}
		if len(r.same) >= remembered {
			clear(r.same)
		}
		r.same[key] = m
		r.guard.Unlock()
	}
	return m.Brief(ctx, ms)
}
