package manifest

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/internal/sheet"
)

// kind is what a manifest is; one that is larger is a capture in the wrong place.
var kind = &sheet.Kind{Name: "manifest", Largest: 64 << 20, Columns: []string{"board", "capture", "lot", "station", "operator", "time", "temperature", "supply", "readings"}, Required: 2,
	Also: map[string]string{"serial": "board", "serial number": "board", "serial no": "board", "serial no.": "board", "s/n": "board", "sn": "board", "board id": "board", "board no": "board", "board no.": "board", "board number": "board", "dut": "board",
		"file": "capture", "filename": "capture", "file name": "capture", "capture file": "capture", "path": "capture", "temp": "temperature", "temperature (°c)": "temperature", "temperature (c)": "temperature", "temperature_c": "temperature", "temp_c": "temperature"},
	Other: "the design comes first on the command line, then the manifest", Lacks: "if this is a capture, list it in a manifest, or name its folder"}

// Read reads a table; name is used in messages, capture files are seen from folder.
func Read(name, folder string, r io.Reader, opt Options) (*Manifest, error) {
	m, like := &Manifest{Source: name}, likeness{}
	t, err := sheet.Read(name, r, kind, func(t *sheet.Table, row record) error {
		return (&table{t, name, folder, opt, &like}).add(m, row)
	})
	if err != nil {
		return nil, err
	}
	if m.Notes = append(t.Notes, like.notes()...); len(m.Entries) == 0 {
		return nil, t.Fault(1, 0, "the manifest lists no board", "a row for each capture below the header", "", acquire.ErrEmpty)
	}
	return m, nil
}

// add turns a row into entries: one, or one for each file that the capture's pattern matches.
func (t *table) add(m *Manifest, r record) error {
	if strings.TrimSpace(r.Board+r.Capture+r.Lot+r.Station+r.Operator+r.Time+r.Temperature+r.Supply+r.Readings) == "" { // a row of delimiters
		return nil
	}
	oneLine := func(name string) string { return strings.Join(strings.Fields(name), " ") }
	e := Entry{Board: oneLine(r.Board), Lot: oneLine(r.Lot), Station: oneLine(r.Station), Operator: oneLine(r.Operator), Line: t.Line()}
	for _, must := range []struct{ column, value string }{{"board", e.Board}, {"capture", strings.TrimSpace(r.Capture)}} {
		if must.value == "" {
			l, c := t.At(must.column)
			return t.Fault(l, c, "no "+must.column, "every row to name its board and its capture", "", acquire.ErrSyntax)
		}
	}
	if err := t.conditions(&e, r); err != nil {
		return err
	}
	files, err := t.files(strings.TrimSpace(r.Capture))
	if err != nil {
		return err
	}
	for _, f := range files {
		e.Capture = f
		m.Entries = append(m.Entries, e)
	}
	return nil
}

// files is the capture's path, or the files its pattern stands for. Whether a file can be read is found out
// with the board, not here.
func (t *table) files(capture string) ([]string, error) {
	path := capture
	if !filepath.IsAbs(path) {
		path = filepath.Join(t.folder, path)
	}
	if _, err := os.Stat(path); err == nil || !isPattern(path) {
		return []string{t.like.file(path)}, nil
	}
	files, err := expand(path)
	if err != nil {
		l, c := t.At("capture")
		return nil, t.Fault(l, c, fmt.Sprintf("%q: %v", capture, err), "a capture, or a pattern that matches some", "", acquire.ErrEmpty)
	}
	return files, nil
}
