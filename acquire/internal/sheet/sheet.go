// Package sheet reads the small structured tables: manifests and stock lists, as a spreadsheet writes them.
package sheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/gocarina/gocsv"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"offbeat/acquire"
)

// Kind is what a table is.
type Kind struct {
	Name     string            // in messages: "manifest"
	Largest  int64             // bytes that one may hold
	Columns  []string          // that are read, those that must be there first
	Required int               // how many these are
	Also     map[string]string // other names of columns, each taken where its column is not there
	Other    string            // what to do where this is no table, "" where there is nothing to say
	Lacks    string            // and where it is another table
}

// needs names the columns that must be there.
func (k *Kind) needs() string {
	if k.Required == 1 {
		return "the column " + k.Columns[0]
	}
	return "the columns " + strings.Join(k.Columns[:k.Required], " and ")
}

// header is what the header should be.
func (k *Kind) header() string {
	return k.needs() + ", then any of " + strings.Join(k.Columns[k.Required:], ", ")
}

// ShownFaults is how many faults of one table are told.
const ShownFaults = 10

// Table is one that is being read.
type Table struct {
	Notes  []string // what was not used
	name   string
	kind   *Kind
	csv    *csv.Reader
	column map[string]int // index of each known column
}

// Fault is an error in a line and column of the table; 0: in none.
func (t *Table) Fault(line, column int, what, expect, do string, sentinel error) *acquire.Error {
	return &acquire.Error{File: t.name, Line: line, Column: column, What: what, Expect: expect, Do: do, Err: sentinel}
}

// At is the place of a cell of the row just read.
func (t *Table) At(column string) (line, byteColumn int) { return t.csv.FieldPos(t.column[column]) }

// Line is where the row just read begins.
func (t *Table) Line() int {
	line, _ := t.csv.FieldPos(0)
	return line
}

// Read has each row taken, as an R whose tags name the columns; name is used in messages. Faults, of which a row that is not
// taken is one, are *acquire.Error, joined.
func Read[R any](name string, r io.Reader, k *Kind, take func(t *Table, row R) error) (*Table, error) {
	t := &Table{name: name, kind: k, column: map[string]int{}}
	text, err := decode(r, k.Largest)
	switch {
	case err != nil:
		return nil, &acquire.Error{File: name, What: "the " + k.Name + " cannot be read: " + err.Error(), Err: err}
	case len(bytes.TrimSpace(text)) == 0:
		return nil, t.Fault(0, 0, "the "+k.Name+" is empty", "a header with "+k.needs(), "", acquire.ErrEmpty)
	case int64(len(text)) > k.Largest:
		return nil, t.Fault(0, 0, "this is too large for a "+k.Name, "a table with "+k.needs(), "", acquire.ErrShape)
	}
	t.csv = reader(text)
	var zero R
	rows, err := gocsv.NewUnmarshaller(t.csv, zero)
	if err != nil {
		f := t.broken(err)
		return nil, t.Fault(f.Line, f.Column, "the header cannot be read: "+f.What, k.header(), k.Other, acquire.ErrShape)
	}
	if err := t.header(rows); err != nil {
		return nil, err
	}
	var faults []error
	for len(faults) < ShownFaults {
		row, err := rows.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			faults = append(faults, t.broken(err))
		} else if err := take(t, row.(R)); err != nil {
			faults = append(faults, err)
		}
	}
	return t, errors.Join(faults...)
}

// broken gives a fault of the table's grammar its place. After one the reader goes on with the next row.
func (t *Table) broken(err error) *acquire.Error {
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return t.Fault(0, 0, err.Error(), "a table", "", acquire.ErrSyntax)
	}
	if errors.Is(p.Err, csv.ErrFieldCount) {
		return t.Fault(p.Line, 0, "this row has more or fewer cells than the header", "one cell a column, empty ones too", "put cells that hold the delimiter in quotes", acquire.ErrSyntax)
	}
	return t.Fault(p.Line, p.Column, p.Err.Error(), "a quoted cell to begin and end with quotes", "", acquire.ErrSyntax)
}

// header matches the columns, whatever their case and the blanks round them.
func (t *Table) header(rows *gocsv.Unmarshaller) error {
	line, k := t.Line(), t.kind
	if err := rows.RenormalizeHeaders(t.names); err != nil {
		return t.Fault(line, 0, err.Error(), "a header", "", acquire.ErrSyntax)
	}
	for i, h := range rows.Headers {
		_, column := t.csv.FieldPos(i)
		if _, twice := t.column[h]; twice {
			return t.Fault(line, column, fmt.Sprintf("column %q stands twice", h), "each column once", "", acquire.ErrSyntax)
		}
		if !slices.Contains(k.Columns, h) {
			t.Notes = append(t.Notes, fmt.Sprintf("%s:%d:%d: column %q is not used; columns are %s", t.name, line, column, h, strings.Join(k.Columns, ", ")))
			continue
		}
		t.column[h] = i
	}
	for _, c := range k.Columns[:k.Required] {
		if _, ok := t.column[c]; !ok {
			return t.Fault(line, 0, fmt.Sprintf("the header has no column %q", c), k.header(), k.Lacks, acquire.ErrShape)
		}
	}
	return nil
}

// decode reads at most one byte more than largest, undoes UTF-16 and byte-order marks, and line ends with a CR.
func decode(r io.Reader, largest int64) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(transform.NewReader(r, unicode.BOMOverride(unicode.UTF8.NewDecoder())), largest+1))
	if bytes.IndexByte(text, '\r') >= 0 {
		text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
		text = bytes.ReplaceAll(text, []byte("\r"), []byte("\n"))
	}
	return text, err
}

// reader reads the text's rows. The delimiter is what its header has most of: comma, semicolon or tab; lines that
// begin with # are comments.
func reader(text []byte) *csv.Reader {
	r := csv.NewReader(bytes.NewReader(text))
	r.Comma = delimiter(text)
	r.Comment = '#'
	r.TrimLeadingSpace = r.Comma != '\t'
	return r
}

// names are the names of a header's columns, whatever their case and the blanks round them.
func (t *Table) names(header []string) []string {
	out := make([]string, len(header))
	for i, n := range header {
		out[i] = strings.ToLower(strings.TrimSpace(n))
	}
	for i, n := range out {
		if c, ok := t.kind.Also[n]; ok && !slices.Contains(out, c) {
			out[i] = c
			t.Notes = append(t.Notes, fmt.Sprintf("%s: column %q is taken as %s", t.name, n, c))
		}
	}
	return out
}

func delimiter(text []byte) rune {
	best, most := ',', 0
	for line := range bytes.Lines(text) {
		if len(bytes.TrimSpace(line)) == 0 || line[0] == '#' {
			continue
		}
		for _, d := range ",;\t" {
			if n := bytes.Count(line, []byte(string(d))); n > most {
				best, most = d, n
			}
		}
		break
	}
	return best
}
