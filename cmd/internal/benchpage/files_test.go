package benchpage

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestTape: a capture of what was heard holds what came first and the whole lines since the last beginning, however the pieces
// were cut; a tape that would fill the disk ends.
func TestTape(t *testing.T) {
	_, _, files := served(t, 0)
	tape, err := files.NewTape()
	if err != nil {
		t.Fatal(err)
	}
	defer tape.Close()
	holds := func(want string) {
		t.Helper()
		f, err := tape.Take("heard.log")
		if want == "" {
			if err == nil {
				t.Error("nothing was heard, and was taken")
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if text, _ := os.ReadFile(f.Path); string(text) != want {
			t.Errorf("it holds %q, want %q", text, want)
		}
	}
	tape.Write([]byte("# a board\n"))
	holds("")
	for _, piece := range []string{"1,0\n2,", "1", "\n3,0\n4", ",1"} {
		tape.Write([]byte(piece))
	}
	holds("# a board\n1,0\n2,1\n3,0\n")
	if err := tape.Anew(); err != nil {
		t.Fatal(err)
	}
	holds("")
	tape.Write([]byte("9,1\n"))
	holds("# a board\n9,1\n")
	files.largest = 20
	if _, err := tape.Write([]byte("10,0\n11,1\n")); !errors.Is(err, errTooLarge) {
		t.Errorf("beyond what may be kept: %v", err)
	}
}

// TestFolder: the files of a lot are laid out under their paths, inside the private folder and nowhere else.
func TestFolder(t *testing.T) {
	_, _, files := served(t, 0)
	sent := func(name string) string {
		f, err := files.Send(name, strings.NewReader(name))
		if err != nil {
			t.Fatal(err)
		}
		return f.ID
	}
	a, b := sent("a.csv"), sent("b.csv")
	lot := []LotFile{{a, "week 9/a.csv"}, {b, "week 9/more/b.csv"}}
	folder, err := files.Folder(lot)
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{"a.csv": "a.csv", "more/b.csv": "b.csv"} {
		if text, err := os.ReadFile(filepath.Join(folder, path)); err != nil || string(text) != want {
			t.Errorf("%s: %q %v", path, text, err)
		}
	}
	if again, err := files.Folder(lot); err != nil || again != folder {
		t.Errorf("the same files lie in %s and %s: %v", folder, again, err)
	}
	for _, path := range []string{"../a.csv", "x/../../a.csv", "/etc/a.csv", "", "x//a.csv", `..\a.csv`, "x/.", "C:/a.csv", "x/\x00.csv"} {
		if folder, err := files.Folder([]LotFile{{b, "b.csv"}, {a, path}}); err == nil {
			t.Errorf("%q is laid out in %s", path, folder)
		}
	}
	if _, err := files.Folder([]LotFile{{"none", "a.csv"}}); err == nil {
		t.Error("a file that nobody sent is laid out")
	}
	all, _ := os.ReadDir(filepath.Dir(files.folder))
	if len(all) != 1 {
		t.Errorf("beside the private folder there is now %v", all)
	}
}
