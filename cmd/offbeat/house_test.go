package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
)

const top = "../.."

// rooms in the order in which data flow; an import never runs back up.
var rooms = []string{"acquire", "fit", "compare", "cmd"}

// entries that may stand at the top beside dot-files; the last three are built and not kept.
var entries = []string{"cmd", "acquire", "fit", "compare", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md", "Makefile", "bin", "dist", "offbeat"}

func TestTopLevel(t *testing.T) {
	found, err := os.ReadDir(top)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range found {
		name := e.Name()
		built := slices.Contains([]string{".test", ".prof", ".out"}, filepath.Ext(name))
		if !strings.HasPrefix(name, ".") && !slices.Contains(entries, name) && !built {
			t.Errorf("%s stands at the top; every file belongs in a room", name)
		}
	}
}

// source is one parsed Go file of the tree.
type source struct {
	path string // from the top, with slashes
	file *ast.File
	fset *token.FileSet
}

func (s source) test() bool { return strings.HasSuffix(s.path, "_test.go") }

func sources(t *testing.T) []source {
	t.Helper()
	all, err := parsed()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 50 {
		t.Fatalf("only %d files were found", len(all))
	}
	return all
}

// parsed reads the tree once for all tests.
var parsed = sync.OnceValues(func() ([]source, error) {
	var all []source
	fset := token.NewFileSet()
	err := filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (strings.HasPrefix(d.Name(), ".") && d.Name() != ".." || d.Name() == "testdata" || d.Name() == "dist"):
			return fs.SkipDir
		case d.IsDir() || filepath.Ext(path) != ".go":
			return nil
		}
		rel, err := filepath.Rel(top, path)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(fset, path, nil, 0)
		if err != nil {
			return err
		}
		all = append(all, source{filepath.ToSlash(rel), f, fset})
		return nil
	})
	return all, err
})

// room is the index of a path's room, and its folder below it.
func room(path string) (index int, below string) {
	first, rest, _ := strings.Cut(path, "/")
	return slices.Index(rooms, first), rest
}

func TestImportsRunOneWay(t *testing.T) {
	for _, s := range sources(t) {
		own, _ := room(s.path)
		if own < 0 {
			t.Errorf("%s stands in no room", s.path)
			continue
		}
		seam := strings.Count(s.path, "/") == 1 && (own == 1 || own == 2)
		for _, i := range s.file.Imports {
			path, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			inside, ok := strings.CutPrefix(path, "offbeat/")
			if !ok {
				continue
			}
			other, below := room(inside)
			if other > own {
				t.Errorf("%s imports %s: an import never runs back up", s.path, path)
			}
			// A design holds a wiring, which is a notation of its own and imports nothing of this program.
			leaf := inside == "fit/wiring"
			if strings.HasPrefix(s.path, "fit/wiring/") && !s.test() {
				t.Errorf("%s imports %s: the seam types import this package", s.path, path)
			}
			if seam && !leaf && !s.test() && other == own && below != "" {
				t.Errorf("%s imports %s: the seam types import none of their room", s.path, path)
			}
		}
	}
}

// forbidden calls outside tests. A package main may end the process with a status.
func TestNoExitsAndNoInit(t *testing.T) {
	for _, s := range sources(t) {
		if s.test() {
			continue
		}
		main := s.file.Name.Name == "main"
		ast.Inspect(s.file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.FuncDecl:
				if n.Name.Name == "init" && n.Recv == nil {
					t.Errorf("%s: an init function works by side effect", s.fset.Position(n.Pos()))
				}
			case *ast.CallExpr:
				switch f := n.Fun.(type) {
				case *ast.Ident:
					if f.Name == "panic" {
						t.Errorf("%s: panic", s.fset.Position(n.Pos()))
					}
				case *ast.SelectorExpr:
					p, ok := f.X.(*ast.Ident)
					if ok && (p.Name == "log" && strings.HasPrefix(f.Sel.Name, "Fatal") || p.Name == "os" && f.Sel.Name == "Exit" && !main) {
						t.Errorf("%s: %s.%s", s.fset.Position(n.Pos()), p.Name, f.Sel.Name)
					}
				}
			}
			return true
		})
	}
}

// The command line holds no arithmetic: it needs no mathematics.
func TestCommandsComputeNothing(t *testing.T) {
	for _, s := range sources(t) {
		if !strings.HasPrefix(s.path, "cmd/internal/cli/") || s.test() {
			continue
		}
		for _, i := range s.file.Imports {
			if path := strings.Trim(i.Path.Value, `"`); path == "math" || strings.HasPrefix(path, "gonum.org/") {
				t.Errorf("%s imports %s", s.path, path)
			}
		}
	}
}

// stranger stands for every import: what a package's own files use of each other needs none.
type stranger struct{}

func (stranger) Import(path string) (*types.Package, error) {
	p := types.NewPackage(path, filepath.Base(path))
	p.MarkComplete()
	return p, nil
}

// Within a package no two files lead to each other: what one uses of another stands below it.
func TestFilesLeadOneWay(t *testing.T) {
	packages := map[string][]source{}
	for _, s := range sources(t) {
		if dir := filepath.ToSlash(filepath.Dir(s.path)); !s.test() {
			packages[dir] = append(packages[dir], s)
		}
	}
	for dir, files := range packages {
		leads := uses(files)
		for shrunk := true; shrunk; { // what leads nowhere, or is led to from nowhere, is in no circle
			shrunk = false
			for f := range leads {
				led := func(g string) bool { return g != f && leads[g][f] }
				if len(leads[f]) == 0 || !slices.ContainsFunc(slices.Collect(maps.Keys(leads)), led) {
					delete(leads, f)
					for _, to := range leads {
						delete(to, f)
					}
					shrunk = true
				}
			}
		}
		if len(leads) > 0 {
			t.Errorf("%s: files lead to each other in a circle: %v; expected what they share in a file below them", dir, slices.Sorted(maps.Keys(leads)))
		}
	}
}

// uses lists for each file of a package the others whose functions, methods, types, variables and constants it uses.
func uses(files []source) map[string]map[string]bool {
	leads := map[string]map[string]bool{}
	var own []*ast.File
	for _, s := range files {
		own = append(own, s.file)
		leads[filepath.Base(s.path)] = map[string]bool{}
	}
	info := &types.Info{Uses: map[*ast.Ident]types.Object{}}
	c := types.Config{Importer: stranger{}, Error: func(error) {}} // what an import would tell is unknown, and that is no matter here
	p, _ := c.Check(files[0].path, files[0].fset, own, info)
	for id, o := range info.Uses {
		f, isFunc := o.(*types.Func)
		method := isFunc && f.Signature().Recv() != nil
		if o.Pkg() != p || !method && o.Parent() != p.Scope() {
			continue
		}
		from, to := filepath.Base(files[0].fset.Position(id.Pos()).Filename), filepath.Base(files[0].fset.Position(o.Pos()).Filename)
		if from != to {
			leads[from][to] = true
		}
	}
	return leads
}
