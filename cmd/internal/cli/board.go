package cli

import (
	"cmp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/lot"
	"offbeat/fit"
)

// reconcileOptions are what `offbeat reconcile` was asked.
type reconcileOptions struct {
	Output   outputFlags
	Capture  captureFlags
	Design   designFlags
	Evidence evidenceFlags
	Keep     keepFlags
	File     string   // the design; empty: the flags
	Captures []string // sources
}

const noCapture = "the capture is missing; expected one file or more, or - for standard input; a design file with [[evidence]] names its own"

func (o *reconcileOptions) register(c *cobra.Command) {
	o.Output.register(c)
	o.Capture.register(c)
	o.Design.register(c)
	o.Evidence.register(c)
}

// arguments takes the design and the captures, and refuses what cannot be meant.
func (o *reconcileOptions) arguments(args []string) error {
	o.File, o.Captures = o.Design.split(args)
	switch {
	case o.Design.Circuit == "" && len(o.Design.Parts) > 0 && len(args) == 1:
		return usagef("--circuit is missing beside --part; expected it, or DESIGN CAPTURE...")
	case o.File == "" && o.Design.Circuit == "":
		return usagef("the design is missing; expected DESIGN CAPTURE..., or --circuit and --part")
	case len(o.Captures) == 0 && o.File == "":
		return usagef(noCapture)
	}
	return o.Output.check()
}

// first is the place of the first capture among the plain arguments.
func (o *reconcileOptions) first() int {
	if o.File == "" {
		return 0
	}
	return 1
}

func (o *reconcileOptions) files(*streams.Streams) files {
	f := o.Output.files()
	f.reads("the design", o.File)
	f.reads("a capture", slices.DeleteFunc(slices.Clone(o.Captures), designfile.IsStill)...)
	f.reads("the baseline", o.Evidence.Baseline)
	o.Keep.files(&f)
	return f
}

// readBoard reads the design, then the captures.
func (o *reconcileOptions) readBoard(s *streams.Streams) (*fit.Design, *reading, error) {
	p, err := o.plan(s)
	if err != nil {
		return nil, nil, err
	}
	r, err := o.read(s, p)
	return p.design, r, err
}

// planned is a board's design, and the captures of it before they are read.
type planned struct {
	design   *fit.Design
	kept     []designfile.Evidence
	sources  []source
	evidence *evidence
	warnings []string
}

// plan takes the design and lists what is to be read.
func (o *reconcileOptions) plan(s *streams.Streams) (p *planned, err error) {
	o.Design.Clock = o.Capture.Clock
	p = &planned{}
	if p.design, p.kept, err = designfile.ReadSession(o.File, o.Design.Flags); err != nil {
		return nil, err
	}
	d := p.design
	if d.Settled, err = o.Evidence.settled(); err != nil {
		return nil, err
	}
	if err := designfile.Looks(o.Evidence.Looks, d); err != nil {
		return nil, err
	}
	if p.sources, p.evidence, p.warnings, err = o.sources(d, designfile.On(p.kept)); err != nil {
		return nil, err
	}
	named := o.files(s)
	for _, src := range p.sources {
		named.reads("a capture of the design's evidence", src.name)
	}
	return p, named.check(s)
}

// read reads and measures what was planned.
func (o *reconcileOptions) read(s *streams.Streams, p *planned) (*reading, error) {
	r, err := readAll(s, p.sources)
	if err != nil {
		return nil, err
	}
	r.evidence, r.warnings = p.evidence, append(r.warnings, p.warnings...)
	r.command, r.anew = o.told(s, p)
	return r, nil
}

// told is the command that gave a finding, and the same without the captures.
func (o *reconcileOptions) told(s *streams.Streams, p *planned) (command, anew string) {
	command, anew = retold(s.Typed), retold(s.Typed, o.Captures...)
	if len(o.Captures) == 0 {
		command = spelled(command, designfile.On(p.kept))
	}
	return command, anew
}

// sources lists the captures and what was special about each.
func (o *reconcileOptions) sources(d *fit.Design, kept []designfile.Evidence) ([]source, *evidence, []string, error) {
	if len(o.Captures) == 0 && len(kept) > 0 {
		return o.kept(d, kept)
	}
	if len(o.Captures) == 0 {
		return nil, nil, nil, usagef(noCapture)
	}
	read, err := o.Capture.options()
	if err != nil {
		return nil, nil, nil, err
	}
	if err := read.prepare(d, &o.Output); err != nil {
		return nil, nil, nil, err
	}
	e, err := o.Evidence.read(d, len(o.Captures), o.first())
	if err != nil {
		return nil, nil, nil, err
	}
	var names []string
	var with [][]fit.Condition
	for i, name := range o.Captures {
		still, ok, err := designfile.Still(name)
		if err != nil {
			return nil, nil, nil, err
		}
		if still.Conditions = e.with[i]; ok {
			d.Stills = append(d.Stills, still)
			continue
		}
		names, with = append(names, name), append(with, e.with[i])
	}
	e.with = with
	sources := alike(names, read)
	for i := range sources {
		sources[i].with = with[i]
	}
	return sources, e, nil, nil
}

// kept lists the captures that the design's own [[evidence]] names.
func (o *reconcileOptions) kept(d *fit.Design, kept []designfile.Evidence) (sources []source, e *evidence, warnings []string, err error) {
	if len(o.Evidence.With) > 0 {
		return nil, nil, nil, usagef("--with %q stands before no capture; expected the capture it holds for", o.Evidence.With[0].text)
	}
	e = &evidence{}
	if e.earlier, err = o.Evidence.earlier(); err != nil {
		return nil, nil, nil, err
	}
	for i := range kept {
		k := &kept[i]
		flags := o.Capture
		flags.Invert = flags.Invert || k.Invert
		if len(flags.Channels) == 0 {
			flags.Channels = k.Channels
		}
		flags.TimeUnit = cmp.Or(flags.TimeUnit, k.TimeUnit)
		flags.Level = cmp.Or(flags.Level, k.Level)
		read, err := flags.options()
		if err == nil {
			err = read.prepare(d, &o.Output)
		}
		if err != nil {
			return nil, nil, nil, k.Fail(err.Error(), "what the flag of that name takes", "")
		}
		var with []fit.Condition
		for _, text := range k.With {
			c, err := designfile.Condition(text, d)
			if err != nil {
				return nil, nil, nil, k.Fail("with: "+strings.TrimPrefix(err.Error(), "--with: "), "a condition as --with takes it", "")
			}
			with = append(with, c)
		}
		still, ok, err := designfile.Still(k.Capture)
		if err != nil {
			return nil, nil, nil, k.Fail("capture: "+err.Error(), "how long no pulse was seen", "")
		}
		if still.Conditions = with; ok {
			d.Stills = append(d.Stills, still)
			continue
		}
		if changed(k.Capture, k.SHA256) {
			warnings = append(warnings, differs(k.Capture))
		}
		own := read
		own.with = with
		sources, e.with = append(sources, source{k.Capture, own}), append(e.with, with)
	}
	return sources, e, warnings, nil
}

// spelled adds to a command the captures that a design's evidence names, so that one more can be added. Where they are not
// all read in one way no command line says so, and it stays as it is.
func spelled(command string, kept []designfile.Evidence) string {
	var flags, captures string
	for i := range kept {
		k := &kept[i]
		own := ""
		for _, c := range k.Channels {
			own += " --channel " + shellWord(c)
		}
		if k.Invert {
			own += " --invert"
		}
		if k.TimeUnit != "" {
			own += " --time-unit " + k.TimeUnit
		}
		if k.Level != "" {
			own += " --level " + shellWord(k.Level)
		}
		if i > 0 && own != flags || k.Single {
			return command
		}
		flags = own
		for _, w := range k.With {
			captures += " --with " + shellWord(w)
		}
		captures += " " + shellWord(k.Capture)
	}
	return command + flags + captures
}

// differs says that a capture has changed since it was saved as evidence.
func differs(capture string) string {
	return capture + " is not the file that was there when the evidence was saved: its SHA-256 differs"
}

// changed says whether a file's digest is not the one that was noted; a file that cannot be read is left to its reader.
func changed(name, digest string) bool {
	if digest == "" {
		return false
	}
	now, err := lot.Digest(name)
	return err == nil && now != digest
}
