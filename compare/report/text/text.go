// Package text renders a document for a terminal, a pipe or a file: lines of the width there is, without losing a number.
package text

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare/ledger"
	"offbeat/compare/report/document"
)

// Write renders a document.
func Write(w io.Writer, d *document.Document, s Style) error {
	if s.Width <= 0 {
		s.Width = 100
	}
	s.Width = max(s.Width, 40)
	p := &printer{bufio.NewWriter(w), s}
	for _, a := range d.Answer {
		for _, l := range Wrap(a, s.Width) {
			p.line("%s", p.paint(bold, l))
		}
	}
	if d.Subject != "" {
		p.prose("", "", d.Subject)
	}
	for i := range d.Sections {
		if d.Sections[i].Show.Says(s.Explain) {
			p.section(&d.Sections[i])
		}
	}
	if d.Closing != "" {
		p.line("")
		p.prose("", "", d.Closing)
	}
	return p.w.Flush()
}

// section writes what of a section is for text; nothing where that is nothing.
func (p *printer) section(s *document.Section) {
	headed, steps := s.Heading == "", 0
	for i := range s.Blocks {
		b := &s.Blocks[i]
		if b.Kind == document.Pictured || !b.Show.Says(p.style.Explain) {
			continue
		}
		title := ""
		if !headed {
			p.line("")
			title, headed = strings.ToUpper(s.Heading), true
		}
		if title != "" && b.Kind != document.Tabular {
			p.line("%s", p.paint(bold, title))
		}
		words := b.Text
		if b.Label != "" {
			words = b.Label + ": " + words
		}
		switch b.Kind {
		case document.Tabular:
			p.table(title, b.Table)
			if b.Table.Caption != "" && p.style.Explain {
				p.prose("  ", "  ", b.Table.Caption)
			}
		case document.Step:
			steps++
			p.prose(fmt.Sprintf("  %d. ", steps), "     ", words)
		case document.Under:
			p.prose("     ", "     ", words)
		case document.Command:
			for _, l := range Command(b.Text, "     ", p.style.Width) {
				p.line("%s", l)
			}
		case document.Point:
			p.prose("  - ", "    ", words)
		default:
			p.toned(b.Tone, words)
		}
	}
}

// toned writes a sentence in the colour of its tone.
func (p *printer) toned(tone document.Tone, words string) {
	for _, l := range Wrap(words, p.style.Width-2) {
		p.line("  %s", p.paint(attributes[tone], l))
	}
}

// Command breaks a line to copy where it is too long for the width, as a shell lets it; the first line is indented, what goes
// on below two blanks more.
func Command(text, indent string, width int) (lines []string) {
	const onward = " \\"
	line := indent
	for i, w := range shellWords(text) {
		if i > 0 {
			w = " " + w
			if visible(line+w+onward) > width {
				lines, line = append(lines, line+onward), indent+" "
			}
		}
		line += w
	}
	return append(lines, line)
}

// shellWords splits a command at the blanks outside its quotes; a flag keeps its value beside it.
func shellWords(text string) []string {
	quoted := false
	var out []string
	for _, w := range strings.FieldsFunc(text, func(r rune) bool {
		if r == '"' {
			quoted = !quoted
		}
		return r == ' ' && !quoted
	}) {
		if n := len(out); n > 0 && strings.HasPrefix(out[n-1], "--") && !strings.ContainsAny(out[n-1], "= ") {
			out[n-1] += " " + w
			continue
		}
		out = append(out, w)
	}
	return out
}

// Odds writes what repairs say of the prior odds, as a table for a design file, and stated against found as its comments.
func Odds(w io.Writer, l *ledger.Learned, day string) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "# from %s to %s; the prior odds count as %g boards\n[odds]\n", quantity.Plural(l.Boards, "repair"), day, l.Weight)
	for _, r := range l.Odds {
		within := ""
		if i := r.Interval95; i != nil {
			within = fmt.Sprintf("95 %% within %.2g … %.2g; ", i[0], i[1])
		}
		fmt.Fprintf(b, "%-24s # %sprior %.2g, found %d\n", fmt.Sprintf("%s = %.2g", r.Key, r.Value), within, r.Prior, r.Found)
	}
	if len(l.Check) > 0 {
		fmt.Fprintln(b, "\n# stated against found")
	}
	for _, r := range l.Check {
		mark := ""
		if r.Mean < r.Interval[0] || r.Mean > r.Interval[1] {
			mark = ": the stated probabilities do not hold here"
		}
		fmt.Fprintf(b, "# from %.2g %% to %.2g %%: %s stated, %s on average; %d found, %.3g %% (95 %% within %.3g … %.3g %%)%s\n", 100*r.From, 100*r.To, quantity.Plural(r.Stated, "cause"), quantity.Probability(r.Mean),
			r.Found, 100*r.Share, 100*r.Interval[0], 100*r.Interval[1], mark)
	}
	for _, n := range l.Notes {
		fmt.Fprintln(b, "# "+n)
	}
	return b.Flush()
}
