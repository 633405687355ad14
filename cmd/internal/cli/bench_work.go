package cli

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"offbeat/acquire"
	"offbeat/cmd/internal/benchpage"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/fit/circuit"
)

// newWorkbench reads the design and the captures that the command line names.
func newWorkbench(s *streams.Streams, o *benchOptions, store *benchpage.Files) (*workbench, error) {
	w := &workbench{s: s, files: store, folder: ".", read: map[string]*reading{}, name: "board.toml"}
	if o.File != "" {
		w.folder, w.name = filepath.Dir(o.File), filepath.Base(o.File)
		text, err := os.ReadFile(o.File)
		if err != nil {
			return nil, fmt.Errorf("%s: the design cannot be read: %w", o.File, acquire.Reason(err))
		}
		state := benchpage.State{}
		if err := w.load(&state, string(text)); err != nil {
			return nil, err
		}
		w.begin.State, w.saved, w.begin.Saved = state, string(text), len(o.Captures) == 0
	}
	for _, c := range o.Captures {
		if designfile.IsStill(c) {
			w.begin.State.Evidence = append(w.begin.State.Evidence, benchpage.Row{Evidence: designfile.Evidence{Capture: c}})
			continue
		}
		f, err := store.Named(c, c)
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", c, acquire.Reason(err))
		}
		w.begin.State.Evidence = append(w.begin.State.Evidence, benchpage.Row{Evidence: designfile.Evidence{Capture: c}, File: f.ID})
	}
	if w.lot = o.Lot; w.lot != "" {
		w.begin.State.Lot = &benchpage.Lot{}
	}
	w.begin.Name, w.begin.Folder = w.name, w.folder
	if full, err := filepath.Abs(w.folder); err == nil {
		w.begin.Folder = full
	}
	if w.folder != "." {
		w.begin.Prefix = strings.TrimSuffix(filepath.Join(w.folder, "x"), "x")
	}
	w.begin.Circuits = starters()
	return w, nil
}

// load parts a design's text into what the page holds. A text that is no TOML stays as it is, for its user to mend.
func (w *workbench) load(state *benchpage.State, text string) error {
	design, kept, err := designfile.Apart(text)
	var fault *designfile.Error
	switch {
	case errors.As(err, &fault) && fault.Fault.Line > 0:
		state.Design = text
		return nil
	case err != nil:
		return fmt.Errorf("%s: %w", filepath.Join(w.folder, w.name), err)
	}
	state.Design = design
	for _, e := range kept {
		row := benchpage.Row{Evidence: e}
		if isFile(&e) {
			path := e.Capture
			if !filepath.IsAbs(path) {
				path = filepath.Join(w.folder, path)
			}
			f, err := w.files.Named(path, path)
			if err != nil {
				return fmt.Errorf("%s names the capture %s, which cannot be read: %w", filepath.Join(w.folder, w.name), path, acquire.Reason(err))
			}
			row.File, row.Capture = f.ID, path
		}
		state.Evidence = append(state.Evidence, row)
	}
	return nil
}

// starters are the circuits to begin with, each drawn.
func starters() []benchpage.Circuit {
	var out []benchpage.Circuit
	for _, name := range circuit.Names() {
		c, err := circuit.Lookup(name)
		if err != nil {
			continue
		}
		text, err := designfile.Starter(name)
		if err != nil {
			continue
		}
		out = append(out, benchpage.Circuit{Name: c.Name, Title: c.Title, HTML: drawnBoard(text, "c-"+c.Name+"-"), Design: text})
	}
	return out
}

// drawnBoard draws the board of a design's text; empty where it can't be.
func drawnBoard(text, prefix string) string {
	d, _, err := designfile.ReadFrom("board.toml", strings.NewReader(text), designfile.Flags{})
	if err != nil {
		return ""
	}
	_, sections, err := page.Parts(&document.Document{Sections: []document.Section{document.Board(d)}}, prefix)
	if err != nil || len(sections) == 0 {
		return ""
	}
	return sections[0].HTML
}

func (w *workbench) Start() (*benchpage.Start, error) {
	begin := w.begin
	begin.Heard = w.Heard()
	return &begin, nil
}

// Board reads a design's text and predicts its times.
func (w *workbench) Board(text, key, value string) *benchpage.Board {
	b := &benchpage.Board{Design: text}
	state := &benchpage.State{Design: text}
	if key != "" {
		changed, err := designfile.Set(text, key, strings.TrimSpace(value))
		if err != nil {
			b.Fault = w.Fault(state, err)
			b.Fault.Key = key
			return b
		}
		b.Design, state.Design = changed, changed
	}
	if strings.TrimSpace(state.Design) == "" {
		return b
	}
	b.Fields, _ = designfile.Fields(state.Design) // its fault is that of reading
	d, _, err := designfile.ReadFrom(w.path(), strings.NewReader(state.Design), designfile.Flags{})
	if err != nil {
		b.Fault = w.Fault(state, err)
		return b
	}
	basis := &document.Basis{Design: d}
	if d.Circuit != "bistable" {
		if basis.Prediction, err = reconcile.Predict(d, nil); err != nil {
			b.Fault = w.Fault(state, err)
			b.Schematic = drawnBoard(state.Design, "b-")
			return b
		}
		var sections []page.Part
		doc := document.Of(basis)
		if _, sections, err = page.Parts(doc, "b-"); err != nil {
			b.Fault = w.Fault(state, err)
			return b
		}
		b.Promise = strings.Join(doc.Answer, " ")
		for _, p := range sections {
			switch p.ID {
			case "board":
				b.Schematic = p.HTML
			case "promise":
				b.Sections = append(b.Sections, p)
			}
		}
	}
	return b
}
