package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync/atomic"

	"offbeat/acquire"
	"offbeat/acquire/listen"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/live"
	"offbeat/cmd/internal/livepage"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/compare/session"
	"offbeat/fit"
)

func (o *listenOptions) files(s *streams.Streams) files {
	f := o.Output.files()
	f.reads("the design", o.File, o.Simulate)
	f.reads("what is listened to", o.Port)
	f.writes("the record of the session", o.record(s))
	return f
}

func (o *listenOptions) run(s *streams.Streams) error {
	ctx := o.until
	if ctx == nil {
		var stop context.CancelFunc
		ctx, stop = untilInterrupted()
		defer stop()
	}
	if o.For > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, o.For)
		defer cancel()
	}
	switch {
	case o.Ports:
		return o.listPorts(s)
	case o.Simulate != "":
		return o.simulate(ctx, s)
	}
	return o.listen(ctx, s)
}

// portList is the JSON document of `offbeat listen --ports`.
type portList struct {
	Schema int               `json:"schema"`
	Ports  []listen.PortInfo `json:"ports"`
}

func (o *listenOptions) listPorts(s *streams.Streams) error {
	ports, err := listen.Ports()
	if err != nil {
		return err
	}
	if o.Output.JSON {
		return printed(report.JSON(s.Out, &portList{1, ports}))
	}
	for _, p := range ports {
		if _, err := fmt.Fprintf(s.Out, "%s  %s\n", p.Name, p.About); err != nil {
			return printed(err)
		}
	}
	if len(ports) == 0 {
		fmt.Fprintln(s.Err, "No serial port was found. Is the board plugged in?")
	}
	return nil
}

// design reads the design, nil where none is given.
func (o *listenOptions) design() (*fit.Design, error) {
	if o.File == "" && o.Design.Circuit == "" {
		if len(o.Design.Parts) > 0 {
			return nil, usagef("--part without --circuit or --design; expected either beside it")
		}
		return nil, nil
	}
	o.Design.Clock = o.Clock
	return designfile.Read(o.File, o.Design.Flags)
}

// prepare says how the captures are measured.
func (o *listenOptions) prepare(d *fit.Design) (read readOptions, err error) {
	if d != nil {
		err = read.prepare(d, &o.Output)
		if read.runs = read.runs || o.Page; err == nil && read.latch != nil {
			err = usagef("a bistable needs its inputs beside its output; expected a logic capture of all of them and offbeat reconcile")
		}
		return read, err
	}
	read.explain, read.trace, read.runs = o.Output.Explain, o.Output.Report != "", o.Output.full() || o.Page
	read.clock, err = designfile.ClockLimit(o.Clock)
	return read, err
}

func (o *listenOptions) listen(ctx context.Context, s *streams.Streams) error {
	d, err := o.design()
	if err != nil {
		return err
	}
	read, err := o.prepare(d)
	if err != nil {
		return err
	}
	log, err := o.log(s)
	if err != nil {
		return err
	}
	if log != nil {
		defer log.Close()
	}
	h := &hearing{o: o, s: s, design: d, read: read, live: session.New(d), reading: &reading{}}
	return h.run(ctx, log)
}

// record names the file that keeps what is heard, empty where none is wanted.
func (o *listenOptions) record(s *streams.Streams) string {
	switch {
	case o.Save != "" || o.Port == "-" || o.Port == "" || o.NoSave:
		return o.Save
	case o.kept == "":
		o.kept = s.Now().Format("offbeat-20060102-150405.log")
	}
	return o.kept
}

// log makes the file that keeps what is heard, nil where none is wanted. One that is there is not overwritten:
// a session can't be had again.
func (o *listenOptions) log(s *streams.Streams) (*os.File, error) {
	name := o.record(s)
	if name == "" {
		return nil, nil
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("%s is there already; choose another name with --save, an earlier session is not overwritten", name)
	}
	if err != nil {
		return nil, unwritable(name, err)
	}
	return f, nil
}

// hearing is a stream while it is heard.
type hearing struct {
	o       *listenOptions
	s       *streams.Streams
	design  *fit.Design // nil: none
	read    readOptions
	live    *session.Session
	session *listen.Session
	view    *live.View
	reading *reading
	whole   atomic.Pointer[reading] // a copy of reading once it is complete, for the page's goroutines
}

// run hears the stream to its end and prints what it says. With a page it then stays until it is interrupted,
// unless a time to end was given.
func (h *hearing) run(ctx context.Context, log *os.File) error {
	opt := listen.Options{Port: h.o.Port, Baud: h.o.Baud, Unit: h.o.Unit, Invert: h.o.Invert, Channel: h.o.Channel, Notify: func(e listen.Event) { h.view.Port(e.Gone) }}
	view := live.Options{Session: h.live, Streams: h.s, Style: h.o.Output.style(h.s), Source: h.o.source(), Silent: h.o.Output.JSON || h.o.Output.Quiet || h.o.Output.instead()}
	if h.o.Port == "-" {
		opt.Input = h.s.In
	} else {
		view.Mark = h.mark
	}
	if log != nil {
		opt.Save, view.Saved = log, log.Name()
	}
	h.view = live.New(view)
	var err error
	if h.session, err = listen.Start(ctx, opt); err != nil {
		if log != nil {
			os.Remove(log.Name()) // nothing was heard
		}
		return err
	}
	defer h.session.Close()
	address := ""
	if h.o.Page {
		server, err := livepage.Start(livepage.Options{Heard: h.view.Heard, Mark: h.mark, Report: h.report})
		if err != nil {
			return err
		}
		defer server.Close()
		address = server.URL()
		fmt.Fprintf(h.s.Err, "The page is at %s\n", address)
	}
	h.view.Start(address)
	err = h.hear()
	h.view.Stop()
	if err != nil {
		return err
	}
	err = h.print()
	if h.o.Page && ctx.Err() == nil {
		fmt.Fprintf(h.s.Err, "The page stays at %s until Ctrl-C.\n", address)
		<-ctx.Done()
	}
	return errors.Join(h.session.Err(), err)
}

// hear measures what comes until the stream ends. A stream that broke off is measured as far as it went.
func (h *hearing) hear() error {
	err := h.reading.records(h, h.read)
	h.view.End()
	h.live.End(h.session)
	if h.o.Page || h.o.Output.Report != "" {
		h.live.Trace()
	}
	sh := h.live.Snapshot()
	h.reading.heard = &sh
	if broken := h.session.Err(); broken != nil && len(h.reading.measurements) == 0 {
		return broken
	}
	if err == nil {
		whole := *h.reading
		h.whole.Store(&whole)
	}
	return err
}

// Next hands out the records of the stream, watched.
func (h *hearing) Next() (*acquire.Capture, error) {
	c, err := h.session.Next()
	if err != nil {
		return nil, err
	}
	return h.live.Watch(c, h.session, h.view.Changed), nil
}

func (h *hearing) print() error {
	if h.design == nil {
		return h.o.Output.measured(h.s, h.reading, h.o.Clock)
	}
	return h.o.Output.finding(h.s, h.design, h.reading)
}

// report writes the session as a page: as it is now, or all of it when it has ended.
func (h *hearing) report(w io.Writer) error {
	sh := h.live.Snapshot()
	b := &document.Basis{Design: h.design, Finding: sh.Finding, Session: &sh}
	switch whole := h.whole.Load(); {
	case whole != nil:
		if b = whole.basis(h.design); h.design == nil {
			break
		}
		var err error
		if b, err = whole.judged(context.Background(), h.design); err != nil {
			return err
		}
	case sh.Now == nil, h.design != nil && sh.Finding == nil:
		return errors.New("nothing is measured yet; the report needs a few seconds of pulses")
	case h.design == nil:
		b.Captures = []compare.Capture{{Source: h.o.source(), Shape: "serial stream", Measured: sh.Now, Cycles: sh.Now.High.Count}}
	}
	return page.Write(w, document.Of(b), maker(h.s))
}

// mark sets a mark in the stream.
func (h *hearing) mark(text string) error { return h.session.Mark(text) }

// source names what is listened to.
func (o *listenOptions) source() string {
	if o.Port == "-" {
		return "standard input"
	}
	return fmt.Sprintf("%s, %d baud", o.Port, o.Baud)
}
