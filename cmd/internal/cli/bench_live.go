package cli

import (
	"context"
	"fmt"
	"io"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/listen"
	"offbeat/acquire/quantity"
	"offbeat/cmd/internal/benchpage"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/session"
)

// newEar begins to listen; nil: nothing is to be heard.
func (o *benchOptions) newEar(ctx context.Context, s *streams.Streams, store *benchpage.Files) (*ear, error) {
	if o.Listen == "" {
		return nil, nil
	}
	tape, err := store.NewTape()
	if err != nil {
		return nil, err
	}
	e := &ear{s: s, name: (&listenOptions{Port: o.Listen, Baud: o.Baud}).source(), tape: tape, live: session.New(nil)}
	e.begins()
	opt := listen.Options{Port: o.Listen, Baud: o.Baud, Unit: o.Unit, Save: tape, Notify: func(v listen.Event) { e.gone.Store(v.Gone) }}
	if o.Listen == "-" {
		opt.Input = s.In
	}
	if e.session, err = listen.Start(ctx, opt); err != nil {
		tape.Close()
		return nil, err
	}
	go e.follow()
	return e, nil
}

func (e *ear) begins() {
	now := e.s.Now()
	e.since.Store(&now)
}

// follow shows what is heard to the live session, until it ends. It keeps nothing: the tape does.
func (e *ear) follow() {
	defer e.ended.Store(true)
	for {
		c, err := e.session.Next()
		if err != nil {
			return
		}
		c = e.live.Watch(c, e.session, func() {})
		for b := new(acquire.Block); err == nil; {
			err = c.Read(b)
		}
		if err != io.EOF {
			return
		}
	}
}

// Close ends the listening.
func (e *ear) Close() {
	e.session.Close()
	e.tape.Close()
}

// heard says how things stand.
func (e *ear) heard() *benchpage.Heard {
	h := &benchpage.Heard{Source: e.name, Since: e.since.Load().Format(time.TimeOnly), Gone: e.gone.Load(), Ended: e.ended.Load()}
	if err := e.session.Err(); err != nil {
		h.Why = said(err)
	}
	switch now := e.live.Snapshot().Now; { // without uncertainty: whose clock it is, the capture will say
	case now == nil:
	case now.Frequency != nil:
		h.Text = fmt.Sprintf("%s, duty factor %s, %s", quantity.Format(now.Frequency.Value, quantity.Hertz), quantity.Relative(now.Duty.Value), quantity.Plural(now.High.Count, "whole cycle"))
	default:
		h.Text = fmt.Sprintf("high time %s, %s", quantity.Format(now.High.Value, quantity.Second), quantity.Plural(now.High.Count, "whole pulse"))
	}
	return h
}

// Heard says what a port or a stream brings; nil: none is heard.
func (w *workbench) Heard() *benchpage.Heard {
	if w.ear == nil {
		return nil
	}
	return w.ear.heard()
}

// Take makes a capture of what was heard, and begins anew; with keep false it only begins anew.
func (w *workbench) Take(keep bool) (f *benchpage.File, err error) {
	if w.ear == nil {
		return nil, usagef("nothing is heard; expected offbeat bench --listen PORT")
	}
	if keep {
		if f, err = w.ear.tape.Take(w.s.Now().Format("heard-20060102-150405.log")); err != nil {
			return nil, err
		}
	}
	w.ear.begins()
	return f, w.ear.tape.Anew()
}
