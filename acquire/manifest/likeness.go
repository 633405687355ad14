package manifest

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
)

// captureEndings are the endings by which a folder's captures are known, before a ".gz".
var captureEndings = []string{".csv", ".txt", ".tsv", ".dat", ".log"}

// boardOf is the file's name without its ending; false where the ending is no capture's.
func boardOf(file string) (string, bool) {
	bare := strings.TrimSuffix(file, ".gz")
	ending := filepath.Ext(bare)
	return strings.TrimSuffix(bare, ending), slices.Contains(captureEndings, strings.ToLower(ending))
}

// likeness finds the file that a name means which none has as it is written: of another case, without its ending, or with the
// slashes of another system. What fits several names is none.
type likeness struct {
	folders map[string]map[string]string // of each: its entries by what else they may be called; empty: several may
	first   [2]string                    // a name, and what it was taken as
	found   int
}

// file is path, or the one file that it may mean.
func (l *likeness) file(path string) string {
	if _, err := os.Stat(path); err == nil {
		return path
	}
	if found := l.entry(filepath.Clean(strings.ReplaceAll(path, `\`, "/"))); found != "" {
		if l.found++; l.found == 1 {
			l.first = [2]string{path, found}
		}
		return found
	}
	return path
}

// entry is the file or folder that a path means; empty: none.
func (l *likeness) entry(path string) string {
	if _, err := os.Stat(path); err == nil {
		return path
	}
	folder, name := filepath.Split(path)
	if folder = filepath.Clean(folder); folder == path || name == "" {
		return ""
	}
	if folder = l.entry(folder); folder == "" {
		return ""
	}
	if found := l.in(folder)[strings.ToLower(name)]; found != "" {
		return filepath.Join(folder, found)
	}
	return ""
}

// in lists a folder.
func (l *likeness) in(folder string) map[string]string {
	if names, ok := l.folders[folder]; ok {
		return names
	}
	names := map[string]string{}
	entries, _ := os.ReadDir(folder)
	for _, e := range entries {
		called := []string{strings.ToLower(e.Name())}
		if bare, ok := boardOf(e.Name()); ok {
			called = append(called, strings.ToLower(bare))
		}
		for _, n := range called {
			if _, twice := names[n]; twice {
				names[n] = ""
			} else {
				names[n] = e.Name()
			}
		}
	}
	if l.folders == nil {
		l.folders = map[string]map[string]string{}
	}
	l.folders[folder] = names
	return names
}

func (l *likeness) notes() []string {
	if l.found == 0 {
		return nil
	}
	return []string{fmt.Sprintf("the files of %s were found under another case, ending or slash than is written, such as %s for %s", quantity.Plural(l.found, "capture"), l.first[1], l.first[0])}
}
