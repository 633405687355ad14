package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"offbeat/acquire"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
)

func newMan(s *streams.Streams) *cobra.Command {
	folder := ""
	c := worded("man", func(c *cobra.Command, args []string) error {
		root := c.Root()
		if folder != "" {
			if len(args) > 0 {
				return usagef("man --write writes every page; expected no %q", args[0])
			}
			return writeManual(root, folder, s)
		}
		page, rest, err := root.Find(args)
		if err != nil {
			return usage(err)
		}
		if len(rest) > 0 {
			return noArguments(page, rest)
		}
		return printed(manual(s.Out, page))
	})
	c.Flags().StringVar(&folder, "write", "", "write every page into `FOLDER`")
	return c
}

// documented lists the root and every command and topic below it that has a page.
func documented(root *cobra.Command) []*cobra.Command {
	all := []*cobra.Command{root}
	for _, c := range root.Commands() {
		if !c.Hidden && c.Name() != "help" {
			all = append(all, c)
		}
	}
	return all
}

// writeManual writes all pages.
func writeManual(root *cobra.Command, folder string, s *streams.Streams) error {
	pages := map[string]*cobra.Command{}
	var f files
	for _, c := range documented(root) {
		name := filepath.Join(folder, manName(c)+".1")
		pages[name] = c
		f.writes("man --write", name)
	}
	if err := f.check(s); err != nil {
		return err
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return fmt.Errorf("%s cannot be made: %w; expected a folder", folder, acquire.Reason(err))
	}
	for _, o := range f.out {
		if err := writeText(o.name, s, func(w io.Writer) error { return manual(w, pages[o.name]) }); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(s.Out, o.name); err != nil {
			return printed(err)
		}
	}
	return nil
}

func manName(c *cobra.Command) string { return strings.ReplaceAll(c.CommandPath(), " ", "-") }

// troff collects the lines of one manual page, in the man macros of troff.
type troff struct{ strings.Builder }

// manual writes the page of one command.
func manual(w io.Writer, c *cobra.Command) error {
	p := &troff{}
	fmt.Fprintf(p, ".TH %s 1\n", strings.ToUpper(manName(c)))
	p.section("NAME")
	p.text(manName(c) + " - " + compare.Within(c.Short))
	if typed := ways(c); typed != "" {
		p.section("SYNOPSIS")
		p.verbatim(strings.Split(strings.ReplaceAll(typed[2:], "\n  ", "\n"), "\n"))
	}
	p.section("DESCRIPTION")
	p.body(c.Long)
	p.flags(c.NonInheritedFlags())
	if c.HasExample() {
		p.section("EXAMPLES")
		p.verbatim(strings.Split(strings.ReplaceAll(c.Example, "\n  ", "\n"), "\n"))
	}
	p.section("SEE ALSO")
	var other []string
	for _, o := range documented(c.Root()) {
		if o != c {
			other = append(other, manName(o)+"(1)")
		}
	}
	p.text(strings.Join(other, ", "))
	_, err := io.WriteString(w, p.String())
	return err
}

// escaped keeps troff from reading text as its own: backslashes, hyphens that are meant to be typed, and a
// control character at the start of a line.
func escaped(line string) string {
	line = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(line)
	if strings.HasPrefix(line, ".") || strings.HasPrefix(line, "'") {
		line = `\&` + line
	}
	return line
}

func (p *troff) section(name string) { fmt.Fprintf(p, ".SH %s\n", name) }

func (p *troff) text(line string) { p.WriteString(escaped(line) + "\n") }

// verbatim keeps lines as they are.
func (p *troff) verbatim(lines []string) {
	p.WriteString(".PP\n.RS 4\n.nf\n")
	for _, l := range lines {
		p.text(strings.TrimSuffix(l, " "))
	}
	p.WriteString(".fi\n.RE\n")
}

// body sets paragraphs apart; indented blocks are kept as they are.
func (p *troff) body(text string) {
	for _, block := range strings.Split(text, "\n\n") {
		lines := strings.Split(strings.Trim(block, "\n"), "\n")
		if !strings.HasPrefix(lines[0], "    ") {
			p.WriteString(".PP\n")
			for _, l := range lines {
				p.text(strings.TrimSpace(l))
			}
			continue
		}
		for i := range lines {
			lines[i] = strings.TrimPrefix(lines[i], "    ")
		}
		p.verbatim(lines)
	}
}

// flags lists the options.
func (p *troff) flags(f *pflag.FlagSet) {
	any := false
	f.VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		if !any {
			any = true
			p.section("OPTIONS")
		}
		name, usage := pflag.UnquoteUsage(f)
		typed := "--" + f.Name
		if f.Shorthand != "" {
			typed = "-" + f.Shorthand + ", " + typed
		}
		p.WriteString(".TP\n\\fB" + escaped(typed) + "\\fR")
		if name != "" {
			p.WriteString(" \\fI" + escaped(name) + "\\fR")
		}
		p.WriteString("\n")
		p.text(usage)
	})
}
