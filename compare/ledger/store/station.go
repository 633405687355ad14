package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
)

// Station writes the results of one run where they belong: into the ledger, or, while its server is away, into a local
// file, from which Send brings them later. One goroutine may record while others ask what is known.
type Station struct {
	run   *ledger.Run
	name  string // of the local file
	away  error  // why the ledger is not written; nil: it is
	guard sync.Mutex
	store *Store                   // the ledger, or the local file
	newer map[string]*ledger.Visit // what stands in place of a board's own result, by its key

	Added, Known int
}

// NewStation opens the ledger for a run; spool names the local file that serves while a server is away.
func NewStation(ctx context.Context, name, spool string, run *ledger.Run) (*Station, error) {
	t := &Station{run: run, name: spool, newer: map[string]*ledger.Visit{}}
	store, err := Open(ctx, name)
	if errors.Is(err, ErrAway) {
		return t, t.local(ctx, err)
	}
	if err != nil {
		return nil, err
	}
	t.store = store
	return t, t.store.Keep(ctx, run)
}

// local goes over to the local file.
func (t *Station) local(ctx context.Context, why error) error {
	if t.away != nil || t.name == "" { // the local file fails as well
		return why
	}
	store, err := Open(ctx, t.name)
	if err != nil {
		return errors.Join(why, err)
	}
	t.guard.Lock()
	t.away, t.store = why, store
	t.guard.Unlock()
	return store.Keep(ctx, t.run)
}

// open is the store that is in use now.
func (t *Station) open() *Store {
	t.guard.Lock()
	defer t.guard.Unlock()
	return t.store
}

// Find is what became of a board already under the same key; nil where that is not known. A board whose captures cannot be
// read is never known.
func (t *Station) Find(ctx context.Context, b *lot.Board) (*lot.Outcome, error) {
	v, err := t.known(ctx, b)
	if err != nil || v == nil {
		return nil, err
	}
	return v.On(b)
}

func (t *Station) known(ctx context.Context, b *lot.Board) (*ledger.Visit, error) {
	key := t.run.Key(b)
	if key == "" {
		return nil, nil
	}
	v, err := t.open().Known(ctx, key)
	if err == nil && v != nil && v.SupersededBy != "" {
		var now *ledger.Visit
		if now, err = t.open().Known(ctx, v.SupersededBy); err == nil && now != nil && now.Alone != nil && now.Alone.Key == key {
			t.Seen(now)
		}
	}
	if errors.Is(err, ErrAway) { // what is known is not known now
		return nil, nil
	}
	return v, err
}

// Finding is what was kept of a board under the same key; nil where there is nothing, and where how the times ran is wanted
// too and was not looked at. It says not whole where a run of many boards kept it, which leaves out what only one board's
// answer has.
func (t *Station) Finding(ctx context.Context, b *lot.Board, runs bool) (f *compare.Finding, whole bool, err error) {
	v, err := t.known(ctx, b)
	if err != nil || v == nil || v.Error != "" || v.Silent {
		return nil, false, err
	}
	now := t.current(v.Key)
	if f = v.Whole.Restored(); f != nil {
		if runs && !v.Whole.Runs {
			return nil, false, nil
		}
		if now != nil && now.Finding != v.Finding {
			f.Warnings = append(f.Warnings, "against the other boards of its lot: "+now.Finding)
		}
		t.Known++
		return f, true, nil
	}
	o, err := v.On(b)
	if err != nil { // a thin one
		return nil, false, nil
	}
	f = o.Finding
	f.Schema, f.Title = 1, v.Design
	if now != nil {
		f.Finding, f.Causes, f.Parts = now.Finding, now.Causes, nil // these are by its own times
	}
	t.Known++
	return f, false, nil
}

// Record writes a board's result down.
func (t *Station) Record(ctx context.Context, v *ledger.Visit) error {
	added, err := t.record(ctx, v)
	if added {
		t.Added++
	} else if err == nil {
		t.Known++
	}
	return err
}

// RecordWhole writes a single board's result down, with all of its finding; runs says that how the times ran was looked at.
func (t *Station) RecordWhole(ctx context.Context, o *lot.Outcome, runs bool) error {
	v := t.run.Visit(o)
	v.Whole = ledger.WholeOf(o.Finding, runs)
	return t.Record(ctx, v)
}

func (t *Station) record(ctx context.Context, v *ledger.Visit) (added bool, err error) {
	err = t.write(ctx, func() (err error) {
		added, err = t.store.Record(ctx, v)
		return err
	})
	return added, err
}

// write writes into the local file instead where the ledger's server is away.
func (t *Station) write(ctx context.Context, do func() error) error {
	err := do()
	if errors.Is(err, ErrAway) {
		if err = t.local(ctx, err); err == nil {
			err = do()
		}
	}
	return err
}

// Decide writes down what was decided on a lot.
func (t *Station) Decide(ctx context.Context, d *ledger.Decision) error {
	d.Design, d.DesignSHA256, d.Version = t.run.Title, t.run.DesignSHA256, t.run.Tool
	return t.write(ctx, func() error { return t.store.Decide(ctx, d) })
}

// Notes say what the user should know of where the results went.
func (t *Station) Notes() []string {
	var out []string
	if t.away != nil {
		out = append(out, fmt.Sprintf("%v: the results are kept in %s; send them on with offbeat ledger send %s LEDGER", t.away, t.name, t.name))
	}
	if t.Known > 0 {
		out = append(out, fmt.Sprintf("%d of the results stood in the ledger already", t.Known))
	}
	return out
}

// Close closes what is open.
func (t *Station) Close() error { return t.store.Close() }

// Judged writes down what a board is against the others of its lot, where the ledger has it otherwise: a newer result of the
// same board, beside that of its own times, which Record wrote.
func (t *Station) Judged(ctx context.Context, own *ledger.Visit, a *lot.Apart) error {
	now := t.current(own.Key)
	now = cmp.Or(now, own)
	next, changed, err := own.InLot(a).Supersede(now)
	if err != nil || !changed {
		return err
	}
	_, err = t.record(ctx, next)
	return err
}

// current is the result that stands for a board in place of the one with that key, as far as it was seen; nil: that one.
func (t *Station) current(key string) *ledger.Visit {
	t.guard.Lock()
	defer t.guard.Unlock()
	return t.newer[key]
}

// Seen remembers that a result against the others stands for a board.
func (t *Station) Seen(v *ledger.Visit) {
	if v.Alone == nil {
		return
	}
	t.guard.Lock()
	t.newer[v.Alone.Key] = v
	t.guard.Unlock()
}
