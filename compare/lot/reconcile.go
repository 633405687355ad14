package lot

import (
	"context"
	"sync"

	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// remembered is how many predictions a Reconciler keeps: the supplies of a lot are few, or all different.
const remembered = 64

// Reconciler judges the boards of one design. Several goroutines may use it at once.
type Reconciler struct {
	design *fit.Design

	guard     sync.Mutex
	predicted map[fit.Reading]*predict.Result // by the supply, the one thing of a board that a prediction depends on
}

// NewReconciler begins with a design.
func NewReconciler(d *fit.Design) *Reconciler {
	return &Reconciler{design: d, predicted: map[fit.Reading]*predict.Result{}}
}

// Board judges one board by its measurements: a Finding without what a lot does not print. It fails as reconcile.Run does,
// and with its context.
func (r *Reconciler) Board(ctx context.Context, b *Board, ms []*fit.Measurement) (*compare.Finding, error) {
	own := b.Design(r.design)
	p, err := r.prediction(own)
	if err != nil {
		return nil, err
	}
	return reconcile.Brief(ctx, own, ms, p)
}

// prediction is that of the design with a board's own supply.
func (r *Reconciler) prediction(d *fit.Design) (*predict.Result, error) {
	r.guard.Lock()
	p := r.predicted[d.Supply]
	r.guard.Unlock()
	if p != nil {
		return p, nil
	}
	p, err := predict.Run(d)
	if err != nil {
		return nil, err
	}
	r.guard.Lock()
	defer r.guard.Unlock()
	if len(r.predicted) >= remembered {
		clear(r.predicted)
	}
	r.predicted[d.Supply] = p
	return p, nil
}
