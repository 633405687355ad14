package cli

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"offbeat/acquire"
	"offbeat/cmd/internal/benchpage"
	"offbeat/cmd/internal/designfile"
	"offbeat/compare/lot"
)

// isSaved says whether the file holds the state.
func (w *workbench) isSaved(state *benchpage.State) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	design, kept, err := designfile.Apart(w.saved)
	if err != nil || design != state.Design || len(kept) != len(state.Evidence) {
		return false
	}
	for i := range kept {
		k, row := kept[i], state.Evidence[i].Evidence
		if isFile(&k) && !filepath.IsAbs(k.Capture) {
			k.Capture = filepath.Join(w.folder, k.Capture)
		}
		if isFile(&row) {
			row.SHA256 = cmp.Or(row.SHA256, k.SHA256)
		}
		if designfile.Together("", []designfile.Evidence{k}) != designfile.Together("", []designfile.Evidence{row}) {
			return false
		}
	}
	return true
}

// command is the command line that gives the answer of a state once it is saved.
func (w *workbench) command() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return "offbeat reconcile " + shellWord(w.path())
}

// Save writes a state to a file of the folder, with the captures that were dropped on the page beside it.
func (w *workbench) Save(state *benchpage.State, name string, over bool) (*benchpage.Saved, error) {
	if name != filepath.Base(name) || strings.ContainsAny(name, `/\`) || filepath.Ext(name) != ".toml" || len(name) <= len(".toml") {
		return nil, fmt.Errorf("%q is no name for the design file; expected a plain name such as board.toml, which goes into %s", name, w.begin.Folder)
	}
	path := filepath.Join(w.folder, name)
	own := name == w.name && w.saved != ""
	if i, err := os.Lstat(path); err == nil && !i.Mode().IsRegular() && !own { // a link may lead anywhere
		return nil, fmt.Errorf("%s is no plain file; expected another name, or the file that the link leads to named as offbeat bench begins", path)
	}
	if text, err := os.ReadFile(path); err == nil && !over && (!own || string(text) != w.saved) {
		return nil, fmt.Errorf("%s is there already, and not as this page knows it: %w", path, fs.ErrExist)
	}
	out := &benchpage.Saved{Name: name, State: benchpage.State{Design: state.Design}}
	kept := make([]designfile.Evidence, len(state.Evidence))
	for i, row := range state.Evidence {
		if isFile(&row.Evidence) {
			f := w.files.Get(row.File)
			if f == nil {
				return nil, &rowError{row: i, err: fmt.Errorf("%s: the capture is no longer here; drop it again", row.Capture)}
			}
			at, wrote, err := w.beside(f)
			if err != nil {
				return nil, &rowError{row: i, err: err}
			}
			if wrote {
				out.Written = append(out.Written, at)
			}
			row.Capture, row.SHA256 = at, f.SHA256
		}
		kept[i] = row.Evidence
		if isFile(&row.Evidence) {
			if rel, err := filepath.Rel(w.folder, row.Capture); err == nil {
				kept[i].Capture = rel
			}
		}
		out.State.Evidence = append(out.State.Evidence, row)
	}
	more, err := w.saveLot(state.Lot, path)
	if err != nil {
		return nil, err
	}
	out.State.Lot, out.Written = state.Lot, append(out.Written, more...)
	text := designfile.Together(state.Design, kept)
	if err := writeFile(path, func(to io.Writer) error { _, err := io.WriteString(to, text); return err }); err != nil {
		return nil, err
	}
	w.mu.Lock()
	w.saved, w.name = text, name
	w.mu.Unlock()
	out.Written = append(out.Written, path)
	if out.Command = w.command(); state.Lot != nil {
		out.Command = w.lotCommand(state.Lot, w.savedLot(state.Lot, path))
	}
	return out, nil
}

// beside finds a capture a place from which the saved file can name it: where it is, or, where it was dropped on the page,
// in the folder, under its own name or one like it that is free.
func (w *workbench) beside(f *benchpage.File) (path string, wrote bool, err error) {
	if !f.Sent {
		return f.Path, false, nil
	}
	stem, ext, _ := strings.Cut(f.Name, ".")
	for n := 1; n < 1000; n++ {
		name := f.Name
		if n > 1 {
			name = strings.TrimSuffix(fmt.Sprintf("%s-%d.%s", stem, n, ext), ".")
		}
		path = filepath.Join(w.folder, name)
		there, err := lot.Digest(path)
		if i, is := os.Lstat(path); is == nil && !i.Mode().IsRegular() { // a link may lead anywhere
			continue
		}
		switch {
		case err == nil && there == f.SHA256:
			return path, false, nil
		case err == nil:
			continue
		case !errors.Is(err, fs.ErrNotExist):
			return "", false, fmt.Errorf("%s cannot be written: %w", path, acquire.Reason(err))
		}
		from, err := os.Open(f.Path)
		if err != nil {
			return "", false, err
		}
		defer from.Close()
		return path, true, writeFile(path, func(to io.Writer) error { _, err := io.Copy(to, from); return err })
	}
	return "", false, fmt.Errorf("%s: no free name is left in %s", f.Name, w.folder)
}
