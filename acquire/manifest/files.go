package manifest

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"offbeat/acquire"
)

// folder lists the captures of a folder, in the order of their names; a board is named after its file.
func folder(name string) (*Manifest, error) {
	files, err := os.ReadDir(name)
	if err != nil {
		return nil, &acquire.Error{File: name, What: acquire.Reason(err).Error(), Expect: "a readable folder", Err: err}
	}
	m := &Manifest{Source: name}
	left, odd := map[string]int{}, 0
	for _, f := range files {
		if f.IsDir() || strings.HasPrefix(f.Name(), ".") {
			continue
		}
		board, ok := boardOf(f.Name())
		if st, err := os.Stat(filepath.Join(name, f.Name())); err == nil && !st.Mode().IsRegular() {
			odd++
			continue
		}
		if !ok {
			left[filepath.Ext(f.Name())]++
			continue
		}
		m.Entries = append(m.Entries, Entry{Board: board, Capture: filepath.Join(name, f.Name())})
	}
	for _, ending := range slices.Sorted(maps.Keys(left)) {
		m.Notes = append(m.Notes, fmt.Sprintf("%s: %d files ending in %q left out; captures end in %s", name, left[ending], ending, strings.Join(captureEndings, ", ")))
	}
	if odd > 0 {
		m.Notes = append(m.Notes, fmt.Sprintf("%s: %d entries that are no plain files (pipes, devices) left out", name, odd))
	}
	if len(m.Entries) == 0 {
		return nil, &acquire.Error{File: name, What: "this folder holds no captures", Expect: "files that end in " + strings.Join(captureEndings, ", "), Err: acquire.ErrEmpty}
	}
	return m, nil
}

// pattern expands a pattern of file names, in the order of their names.
func pattern(name string) (*Manifest, error) {
	files, err := expand(name)
	if err != nil {
		return nil, &acquire.Error{File: name, What: err.Error(), Expect: "a pattern that some file matches", Err: acquire.ErrEmpty}
	}
	m := Files(files)
	m.Source = name
	return m, nil
}

// Files makes a list of the named captures, each board named after its file.
func Files(names []string) *Manifest {
	m := &Manifest{Source: "the command line"}
	for _, f := range names {
		board, ok := boardOf(filepath.Base(f))
		if !ok {
			board = filepath.Base(f)
		}
		m.Entries = append(m.Entries, Entry{Board: board, Capture: f})
	}
	return m
}

// expand lists the regular files that match.
func expand(pattern string) ([]string, error) {
	all, err := filepath.Glob(pattern)
	if err != nil {
		return nil, fmt.Errorf("malformed pattern: %w", err)
	}
	var files []string
	for _, f := range all {
		if st, err := os.Stat(f); err == nil && st.Mode().IsRegular() {
			files = append(files, f)
		}
	}
	if len(files) == 0 {
		return nil, fmt.Errorf("no file matches the pattern")
	}
	return files, nil
}

func isPattern(name string) bool { return strings.ContainsAny(name, "*?[") }
