package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/acquire"
	"offbeat/acquire/open"
	"offbeat/cmd/internal/demo"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/report/text"
)

// demoOptions are what `offbeat demo` was asked.
type demoOptions struct {
	Output outputFlags
	Board  string // empty: the first at length, the others in a line each
	Write  string // folder to write the files to
}

func newDemo(s *streams.Streams, run func(*demoOptions) error) *cobra.Command {
	o := &demoOptions{}
	c := worded("demo", func(_ *cobra.Command, args []string) error {
		if len(args) > 1 {
			return usagef("%q is one argument too many; expected one BOARD or none", args[1])
		}
		if len(args) == 1 {
			o.Board = args[0]
		}
		if err := o.Output.check(); err != nil {
			return err
		}
		return perform(run, o, s)
	})
	o.Output.register(c)
	c.Flags().StringVar(&o.Write, "write", "", "write the designs and captures to `FOLDER` and stop")
	return c
}

func (o *demoOptions) files(*streams.Streams) files { return o.Output.files() }

func (o *demoOptions) run(s *streams.Streams) error {
	files, err := demo.Files()
	if err != nil {
		return err
	}
	if o.Write != "" {
		return copyTo(o.Write, files, s)
	}
	told := demo.Boards[0]
	if o.Board != "" {
		if told, err = demo.Lookup(o.Board); err != nil {
			return usage(err)
		}
	}
	if o.Output.JSON || o.Output.Quiet || o.Output.instead() {
		return o.board(s, files, told)
	}
	say := func(format string, args ...any) {
		fmt.Fprintln(s.Out, strings.Join(text.Wrap(fmt.Sprintf(format, args...), s.Width), "\n"))
	}
	say("A model harbour, all of it invented. %s: %q.", told.Name, told.Story)
	fmt.Fprintln(s.Out)
	if err := o.board(s, files, told); err != nil {
		return err
	}
	fmt.Fprintln(s.Out)
	say("The capture was made with this fault: %s.", told.Truth)
	if o.Board != "" {
		return nil
	}
	return o.others(s, files)
}

// others tells the rest of the harbour in two lines each.
func (o *demoOptions) others(s *streams.Streams, files fs.FS) error {
	say := func(indent, words string) error {
		_, err := fmt.Fprintln(s.Out, indent+strings.Join(text.Wrap(words, s.Width-len(indent)), "\n"+indent))
		return printed(err)
	}
	fmt.Fprintln(s.Out)
	say("", "The other boards (offbeat demo NAME tells one at length, offbeat demo --write FOLDER writes the files):")
	short := demoOptions{Output: outputFlags{Quiet: true}}
	for _, b := range demo.Boards[1:] {
		var line bytes.Buffer
		aside := *s
		aside.Out = &line
		if err := short.board(&aside, files, b); err != nil {
			return err
		}
		fmt.Fprintln(s.Out)
		say("", fmt.Sprintf("%s: %q", b.Name, b.Story))
		say("  ", line.String())
		if err := say("  ", "made with: "+b.Truth); err != nil {
			return err
		}
	}
	return nil
}

// board reconciles one board of the harbour.
func (o *demoOptions) board(s *streams.Streams, files fs.FS, b demo.Board) error {
	drawing, err := files.Open(b.Design)
	if err != nil {
		return err
	}
	defer drawing.Close()
	d, _, err := designfile.ReadFrom(b.Design, drawing, designfile.Flags{})
	if err != nil {
		return err
	}
	capture, err := files.Open(b.Capture)
	if err != nil {
		return err
	}
	defer capture.Close()
	var read readOptions
	if err := read.prepare(d, &o.Output); err != nil {
		return err
	}
	src, err := open.OpenReader(b.Capture, capture, read.Options)
	if err != nil {
		return err
	}
	defer src.Close()
	r := &reading{command: "offbeat reconcile " + b.Design + " " + b.Capture, anew: "offbeat reconcile " + b.Design}
	if err := r.records(src, read); err != nil {
		return err
	}
	err = o.Output.finding(s, d, r)
	if _, ok := errors.AsType[verdictError](err); ok {
		return nil
	}
	return err
}

// copyTo writes the scenario's files into a folder. One of the same name that holds something else is the user's own
// work on it, and stays.
func copyTo(folder string, source fs.FS, s *streams.Streams) error {
	content := map[string][]byte{}
	var f files
	err := fs.WalkDir(source, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := fs.ReadFile(source, name)
		to := filepath.Join(folder, name)
		content[to] = b
		f.writes("demo --write", to)
		return err
	})
	if err != nil {
		return err
	}
	if err := f.check(s); err != nil {
		return err
	}
	for _, o := range f.out {
		i := identify(o, nil)
		if i == nil || i.info == nil {
			continue
		}
		if there, err := os.ReadFile(o.name); err == nil && !bytes.Equal(there, content[o.name]) {
			return fmt.Errorf("%s is there already and holds something else; expected a folder without it, what is yours is not written over", o.name)
		}
	}
	for _, o := range f.out {
		if err := os.MkdirAll(filepath.Dir(o.name), 0o777); err != nil {
			return fmt.Errorf("%s cannot be made: %w", filepath.Dir(o.name), acquire.Reason(err))
		}
		if err := writeFile(o.name, func(w io.Writer) error { _, err := w.Write(content[o.name]); return err }); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(s.Out, o.name); err != nil {
			return printed(err)
		}
	}
	return nil
}
