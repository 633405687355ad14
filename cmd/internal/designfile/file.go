// Package designfile turns a design file, or the flags that stand for one, into a fit.Design.
//
//  1. Read makes a list of entries of the file, FromFlags of the flags: a dotted key, the value as written,
//     and its place.
//  2. With both, a flag takes the place of the file's entry of the same key.
//  3. Build turns the entries into the design. Every fault is an *Error that names file, line and column, or
//     the flag, and shows the fault with a caret.
//
// The file is TOML. Where it is silent, Design.Notes says what was assumed:
//
//   - history: "new". timer.family: "bipolar". instrument.clock: "crystal".
//   - supply: 5 V ± 5 %; a supply with no tolerance: ± 5 %.
//   - a part with no tolerance: ± 5 % for a resistor, ± 10 % for a capacitor, ± 20 % for an electrolytic one
//     (common practice).
//   - a capacitor with no kind: the odds of a film capacitor.
//
// A tolerance in per cent is always relative to its value: duty_factor = "45 % ± 2 %" is 44.1 % … 45.9 %.
package designfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"offbeat/acquire"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// largest is the most that a design file may hold, in bytes; a larger one is a capture in the wrong place.
const largest = 1 << 20

// read lists the entries of a design file.
func read(name string, r io.Reader) ([]entry, error) {
	b, err := io.ReadAll(io.LimitReader(r, largest+1))
	if err != nil {
		return nil, unreadable(name, err)
	}
	return parse(name, b)
}

func unreadable(name string, err error) *Error {
	e := place{file: name}.fail("the design cannot be read: "+acquire.Reason(err).Error(), "a design file", "")
	e.Fault.Err = err
	return e
}

// mark begins the files of some editors, and says nothing.
const mark = "\ufeff"

// parse lists the entries of a design file's bytes.
func parse(name string, b []byte) ([]entry, error) {
	b = bytes.TrimPrefix(b, []byte(mark))
	doc := &document{name: name, bytes: b}
	const order = "the design comes first on the command line, then the captures"
	switch {
	case len(b) > largest:
		return nil, place{file: name}.fail("this is too large for a design file", "a TOML file of a few lines", order)
	case bytes.ContainsFunc(b[:min(len(b), 1024)], binary):
		return nil, place{file: name}.fail("this is no text", "a design file", order)
	case len(bytes.TrimSpace(b)) == 0:
		return nil, place{file: name}.fail("the design is empty", `circuit = "…" and [parts]`, "")
	}
	// The decoder checks the whole grammar; the walk below keeps the places, which the decoder drops.
	var ignored map[string]any
	if err := toml.Unmarshal(b, &ignored); err != nil {
		var d *toml.DecodeError
		if !errors.As(err, &d) {
			return nil, place{file: name}.fail(err.Error(), "a TOML file", "")
		}
		line, column := d.Position()
		return nil, doc.syntax(line, column, strings.TrimPrefix(d.Error(), "toml: "), order)
	}
	return doc.walk()
}

// binary tells characters that no text holds.
func binary(r rune) bool {
	return r == utf8.RuneError || r < ' ' && r != '\t' && r != '\r' && r != '\n'
}

// document is the text of a design file, for places.
type document struct {
	name   string
	bytes  []byte
	parser unstable.Parser
}

// syntax explains what is not TOML, and the two slips that lead to it: a bare value, and a capture.
func (d *document) syntax(line, column int, message, order string) *Error {
	text := d.line(line)
	e := place{file: d.name, line: line, text: text, offset: column - 1}.fail("this is not TOML: "+message, "a line such as key = \"value\"", "")
	key, value, found := strings.Cut(text, "=")
	value = strings.TrimSpace(value)
	switch {
	case found && value != "" && !strings.ContainsAny(value[:1], `"'{[`):
		e.Fault.Expect = fmt.Sprintf("the value in quotes: %s = %q", strings.TrimSpace(key), value)
	case !found && !bytes.Contains(d.bytes, []byte("=")):
		e.Fault.Expect, e.Fault.Do = "a design file", order
	}
	return e
}

// line is the text of a 1-based line.
func (d *document) line(n int) string {
	lines := bytes.SplitN(d.bytes, []byte("\n"), n+1)
	if n > len(lines) {
		return ""
	}
	return strings.TrimSuffix(string(lines[n-1]), "\r")
}

// at is the place of a byte offset.
func (d *document) at(offset int) place {
	before := d.bytes[:offset]
	line := 1 + bytes.Count(before, []byte("\n"))
	return place{file: d.name, line: line, text: d.line(line), offset: offset - (1 + bytes.LastIndexByte(before, '\n'))}
}

// walk lists every key and value of a document whose grammar is known to be sound.
func (d *document) walk() ([]entry, error) {
	p := &d.parser
	p.Reset(d.bytes)
	var entries []entry
	var table []string
	lists := 0
	for p.NextExpression() {
		n := p.Expression()
		path, at := d.key(n)
		switch n.Kind {
		case unstable.Table:
			table = path
			entries = append(entries, d.header(n, path, at))
		case unstable.ArrayTable:
			if len(path) != 1 || path[0] != evidenceTable {
				return nil, at.fail("[["+strings.Join(path, ".")+"]] is a list of tables", "single brackets", "")
			}
			table = []string{evidenceTable, strconv.Itoa(lists)}
			lists++
			entries = append(entries, d.header(n, table, at))
		case unstable.KeyValue:
			entries = d.add(entries, table, n, false)
		}
	}
	if err := p.Error(); err != nil {
		return nil, place{file: d.name}.fail(err.Error(), "a TOML file", "")
	}
	return entries, nil
}

// key is the dotted key of a node and its place.
func (d *document) key(n *unstable.Node) (path []string, at place) {
	if n.Kind != unstable.KeyValue && n.Kind != unstable.Table && n.Kind != unstable.ArrayTable {
		return nil, place{}
	}
	for it := n.Key(); it.Next(); {
		if path == nil {
			at = d.at(int(it.Node().Raw.Offset))
		}
		path = append(path, string(it.Node().Data))
	}
	return path, at
}

// add appends the entries of one key and value; an inline table gives one for each of its keys.
func (d *document) add(entries []entry, table []string, n *unstable.Node, inner bool) []entry {
	own, at := d.key(n)
	path := append(append([]string{}, table...), own...)
	v := n.Value()
	if v.Kind == unstable.Array && path[0] == evidenceTable {
		for it := v.Children(); it.Next(); {
			entries = append(entries, d.value(path, at, it.Node()))
		}
		return entries
	}
	if v.Kind == unstable.InlineTable {
		for it := v.Children(); it.Next(); {
			entries = d.add(entries, path, it.Node(), true)
		}
		return entries
	}
	e := d.value(path, at, v)
	e.inner = inner
	return append(entries, e)
}

// header is the line that begins a table.
func (d *document) header(n *unstable.Node, path []string, at place) entry {
	it := n.Key()
	it.Next()
	from := int(it.Node().Raw.Offset)
	return entry{path: path, kind: header, key: at, at: at, raw: span{from, from}}
}

// value is the entry of one value.
func (d *document) value(path []string, at place, v *unstable.Node) entry {
	e := entry{path: path, key: at, at: at, kind: other}
	r := v.Raw
	if r.Length > 0 {
		e.at = d.at(int(r.Offset))
	} else if len(v.Data) > 0 {
		r = d.parser.Range(v.Data)
	}
	e.raw = span{int(r.Offset), int(r.Offset + r.Length)}
	switch v.Kind {
	case unstable.String:
		e.kind, e.value = text, string(v.Data)
		if raw := string(d.bytes[v.Raw.Offset : v.Raw.Offset+v.Raw.Length]); len(raw) == len(e.value)+2 {
			e.plain = true
			e.at.offset++
		} else if len(raw) > 3 && (strings.HasPrefix(raw, `"""`) || strings.HasPrefix(raw, "'''")) {
			e.first = e.at.line
			if c := raw[3]; c == '\n' || c == '\r' {
				e.first++
			}
		}
	case unstable.Integer, unstable.Float:
		e.kind, e.value, e.plain = number, string(v.Data), true
	default:
		e.value = string(v.Data)
	}
	return e
}

// evidenceTable is the name of the tables.
const evidenceTable = "evidence"

// netlistEndings are the file names that say a netlist.
var netlistEndings = []string{".cir", ".net", ".sp"}

// IsNetlist says whether a design's name is that of a netlist.
func IsNetlist(name string) bool {
	return slices.Contains(netlistEndings, strings.ToLower(filepath.Ext(name)))
}
