package designfile

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"offbeat/fit/circuit"
)

// Field is one value of a design as a form shows it: what the file says, or nothing yet.
type Field struct {
	Key     string   `json:"key"`   // dotted: parts.C1.value
	Value   string   `json:"value"` // as written; empty: not in the file
	Choices []string `json:"choices,omitempty"`
	Example string   `json:"example,omitempty"`
	Line    int      `json:"line,omitempty"` // of the value, from 1
	Column  int      `json:"column,omitempty"`
}

// Fields lists the values of a design's text, and those that may be added, in the order of a form. Its error is a text that
// is no TOML; what a value says is not looked at.
func Fields(text string) ([]Field, error) {
	entries, err := parse("", []byte(text))
	if err != nil {
		return nil, err
	}
	b := newBuilder("", entries)
	for i := range b.entries { // what parts there are; a fault of theirs is for the one who reads the design
		switch e := &b.entries[i]; {
		case e.kind == header:
		case e.name() == "circuit":
			b.circuit(e)
		case e.name() == "wiring":
			b.wire(e)
		}
	}
	var out []Field
	form := b.form()
	for _, f := range form {
		found := false
		for i := range entries {
			e := &entries[i]
			if e.kind == header || e.name() != f.Key && !strings.HasPrefix(e.name(), f.Key+".") || strings.Count(e.name(), ".") > 2 {
				continue
			}
			found = true
			g := f
			g.Key, g.Value, g.Line, g.Column = e.name(), e.value, e.at.line, e.at.offset+1
			if g.Key != f.Key {
				g.Example = ""
			}
			out = append(out, g)
		}
		if part, ok := strings.CutPrefix(f.Key, "parts."); ok && !found && b.design.Wiring != nil {
			if e := b.onCard(b.design.Wiring.Card(part)); e != nil {
				f.Value, f.Line, f.Column, found = e.value, e.at.line, e.at.offset+1, true
				out = append(out, f)
			}
		}
		if !found {
			out = append(out, f)
		}
	}
	for i := range entries { // what the form does not name
		e := &entries[i]
		named := func(f Field) bool { return f.Key == e.name() }
		if e.kind != header && e.path[0] != evidenceTable && e.name() != "wiring" && !slices.ContainsFunc(out, named) {
			out = append(out, Field{Key: e.name(), Value: e.value, Line: e.at.line, Column: e.at.offset + 1})
		}
	}
	return out, nil
}

// form lists what a form asks of any board.
func (b *builder) form() []Field {
	fields := []Field{{Key: "title", Example: "Harbour lamp 3"}}
	if b.design.Wiring == nil {
		fields = append(fields, Field{Key: "circuit", Choices: circuit.Names()})
	}
	for _, name := range b.subject.names() {
		example := "10k ± 1 %"
		switch name[0] {
		case 'C':
			example = "100n ± 10 %"
		case 'D':
			example = "silicon"
		}
		fields = append(fields, Field{Key: "parts." + name, Example: example})
	}
	if b.subject != nil && b.subject.latch {
		return append(fields, Field{Key: "timer.inputs", Choices: []string{"active low", "active high"}})
	}
	fields = append(fields, Field{Key: "supply", Example: "5 V ± 2 %"}, Field{Key: "history", Choices: []string{"new", "worked"}})
	if b.subject != nil {
		fields = append(fields, Field{Key: "timer.family", Choices: b.subject.families})
	}
	target := Field{Key: "target.frequency", Example: "138 Hz ± 3 %"}
	if b.subject != nil && b.subject.onePulse {
		target = Field{Key: "target.high_time", Example: "1.1 s ± 10 %"}
	}
	return append(fields, target, Field{Key: "instrument.clock", Example: "crystal, ceramic, rc or 50 ppm"})
}

// lines widens a span to whole lines.
func lines(text string, at span) span {
	from := 1 + strings.LastIndexByte(text[:at.from], '\n')
	to := len(text)
	if i := strings.IndexByte(text[at.to:], '\n'); i >= 0 {
		to = at.to + i + 1
	}
	return span{from, to}
}

// Set writes one value of a design's text anew and leaves all else as it stands: comments, order, blanks. An empty value
// takes the key out. The text must be sound TOML, and what the value says is not looked at.
func Set(text, key, value string) (string, error) {
	text = strings.TrimPrefix(text, mark)
	entries, err := parse("", []byte(text))
	if err != nil && strings.TrimSpace(text) != "" {
		return "", err
	}
	path := strings.Split(key, ".")
	replaced := func(at span, by string) string { return text[:at.from] + by + text[at.to:] }
	for _, e := range entries {
		if e.kind == header || e.name() != key {
			continue
		}
		switch {
		case value != "":
			return replaced(e.raw, tomlText(value)), nil
		case e.inner:
			return "", fmt.Errorf("%s stands among others in braces; expected a value, or the text itself changed", key)
		}
		return replaced(lines(text, e.raw), ""), nil
	}
	if path[0] == "parts" && len(path) == 2 {
		if at, ok := cardValue(text, entries, path[1]); ok {
			return replaced(at, value), nil
		}
	}
	if value == "" {
		return text, nil
	}
	line := quotedKey(path[len(path)-1]) + " = " + tomlText(value) + "\n"
	table, at := path[:len(path)-1], -1 // where the line goes: after the last of its table, or of the keys above the tables
	if len(table) == 0 {
		at = 0
	}
	for _, e := range entries {
		if len(table) == 0 && e.kind == header {
			break // so that the blank line and the comment before a table stay with it
		}
		if slices.Equal(e.path[:min(len(e.path), len(table))], table) {
			at = lines(text, e.raw).to
		}
	}
	if at >= 0 {
		if at > 0 && text[at-1] != '\n' {
			line = "\n" + line
		}
		return text[:at] + line + text[at:], nil
	}
	if text != "" && !strings.HasSuffix(text, "\n") {
		text += "\n"
	}
	return text + "\n[" + strings.Join(table, ".") + "]\n" + line, nil
}

// cardValue is where the value of a part stands on its card; false: it has none there.
func cardValue(text string, entries []entry, part string) (span, bool) {
	b := newBuilder("", entries)
	e := b.entryOf("wiring")
	if e == nil || b.wire(e) != nil {
		return span{}, false
	}
	c := b.design.Wiring.Card(part)
	if c == nil || c.Value == "" || e.first == 0 {
		return span{}, false
	}
	at := e.card(c.Line, c.ValueColumn)
	from := at.offset
	for range at.line - 1 {
		from += 1 + strings.IndexByte(text[from-at.offset:], '\n')
	}
	to := from + strings.IndexAny(text[from:]+"\n", "#\n")
	if !strings.Contains(text[from:to], "\\") { // the text in quotes is as the cards have it
		return span{from, from + len(strings.TrimRight(text[from:to], " \t\r"))}, true
	}
	return span{}, false
}

// tomlText writes a text in quotes (TOML 1.0, basic strings).
func tomlText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// quotedKey writes a key, in quotes where it must be.
func quotedKey(k string) string {
	bare := func(r rune) bool {
		return r == '_' || r == '-' || '0' <= r && r <= '9' || 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z'
	}
	if k != "" && strings.IndexFunc(k, func(r rune) bool { return !bare(r) }) < 0 {
		return k
	}
	return tomlText(k)
}

// Apart parts a design's text from its [[evidence]]; captures are named as the text names them.
func Apart(text string) (design string, evidence []Evidence, err error) {
	text = strings.TrimPrefix(text, mark)
	entries, err := parse("", []byte(text))
	if err != nil {
		return "", nil, err
	}
	b := newBuilder("", entries)
	if evidence, err = b.evidence(); err != nil {
		return "", nil, err
	}
	var out strings.Builder
	headers := slices.DeleteFunc(entries, func(e entry) bool { return e.kind != header })
	from := 0
	for i, h := range headers {
		if h.path[0] != evidenceTable {
			continue
		}
		to := len(text)
		if i+1 < len(headers) {
			to = beforeComments(text, lines(text, headers[i+1].raw).from)
		}
		out.WriteString(text[from:max(from, lines(text, h.raw).from)])
		from = max(from, to)
	}
	out.WriteString(text[from:])
	design = out.String()
	if len(evidence) > 0 {
		design = strings.TrimRight(design, "\n") + "\n"
	}
	return design, evidence, nil
}

// beforeComments goes back over the blank lines and comments that stand before a header: they belong to it.
func beforeComments(text string, at int) int {
	for at > 0 {
		from := 1 + strings.LastIndexByte(text[:at-1], '\n')
		if line := strings.TrimSpace(text[from:at]); line != "" && line[0] != '#' {
			break
		}
		at = from
	}
	return at
}

// Together writes a design's text with its evidence below.
func Together(design string, evidence []Evidence) string {
	var b strings.Builder
	b.WriteString(design)
	if design != "" && !strings.HasSuffix(design, "\n") {
		b.WriteByte('\n')
	}
	for i := range evidence {
		b.WriteString("\n" + evidence[i].text())
	}
	return b.String()
}

// text writes the table of one evidence.
func (v *Evidence) text() string {
	var b strings.Builder
	b.WriteString("[[" + evidenceTable + "]]\n")
	for _, k := range evidenceKeys {
		value := ""
		switch {
		case k.flag != nil:
			if on := *k.flag(v); on {
				value = fmt.Sprint(k.name != "on")
			}
		case k.list != nil:
			var all []string
			for _, s := range *k.list(v) {
				all = append(all, tomlText(s))
			}
			if value = strings.Join(all, ", "); len(all) > 0 {
				value = "[" + value + "]"
			}
		case *k.text(v) != "":
			s := *k.text(v)
			if k.name == "capture" {
				s = filepath.ToSlash(s)
			}
			value = tomlText(s)
		}
		if value != "" {
			b.WriteString(k.name + " = " + value + "\n")
		}
	}
	return b.String()
}

// Starter is the text of a design of one of the named circuits, with usual values to be typed over.
func Starter(name string) (string, error) {
	c, err := circuit.Lookup(name)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "title   = %s\ncircuit = %s\n", tomlText("New board"), tomlText(name))
	if c.Latch {
		return b.String(), nil
	}
	b.WriteString("supply  = \"5 V ± 5 %\"\nhistory = \"worked\"            # it used to be right; new: a fresh build\n\n[parts]\n")
	for _, p := range c.Parts {
		b.WriteString(exampleOf(p.Name) + "\n")
	}
	return b.String(), nil
}
