package open_test

import (
	"archive/tar"
	archive "archive/zip"
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/acquire/open"
)

// storages are ways in which one and the same text may reach the reader.
var storages = []struct {
	name  string
	store func(t *testing.T, text []byte) []byte
}{
	{"CRLF", func(t *testing.T, b []byte) []byte { return bytes.ReplaceAll(b, []byte("\n"), []byte("\r\n")) }},
	{"CR alone", func(t *testing.T, b []byte) []byte { return bytes.ReplaceAll(b, []byte("\n"), []byte("\r")) }},
	{"byte-order mark", func(t *testing.T, b []byte) []byte { return append([]byte("\xef\xbb\xbf"), b...) }},
	{"UTF-16 little-endian", func(t *testing.T, b []byte) []byte { return toUTF16("\ufeff"+string(b), false) }},
	{"UTF-16 big-endian", func(t *testing.T, b []byte) []byte { return toUTF16("\ufeff"+string(b), true) }},
	{"UTF-16 without a mark", func(t *testing.T, b []byte) []byte { return toUTF16(string(b), false) }},
	{"gzip", zip},
	{"gzip in two members", func(t *testing.T, b []byte) []byte {
		return append(zip(t, b[:len(b)/2]), zip(t, b[len(b)/2:])...)
	}},
	{"zip archive", func(t *testing.T, b []byte) []byte {
		return zipOf(t, "folder/", "", "folder/.about", "x", "folder/a.csv", string(b))
	}},
	{"tar archive", func(t *testing.T, b []byte) []byte { return tarOf(t, "a.csv", string(b)) }},
	{"gzip of a tar archive of gzip", func(t *testing.T, b []byte) []byte { return zip(t, tarOf(t, "a.csv.gz", string(zip(t, b)))) }},
	{"quoted cells", quote},
}

// zipOf is a zip archive of files: their names and texts; tarOf is one of another kind.
func zipOf(t *testing.T, files ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := archive.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		if w, err := z.Create(files[i]); err != nil {
			t.Fatal(err)
		} else if _, err := io.WriteString(w, files[i+1]); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func tarOf(t *testing.T, files ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		if err := w.WriteHeader(&tar.Header{Name: files[i], Mode: 0o600, Size: int64(len(files[i+1]))}); err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, files[i+1]); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// unpacked are the times and levels of a capture.
func unpacked(b []byte) (rows string, err error) {
	s, err := open.OpenReader("packed", bytes.NewReader(b), acquire.Options{})
	if err != nil {
		return "", err
	}
	defer s.Close()
	for {
		c, err := s.Next()
		if err == io.EOF {
			return rows, nil
		}
		var block acquire.Block
		for ; err == nil; err = c.Read(&block) {
			rows += fmt.Sprint(block.Time, block.Value)
		}
		if err != io.EOF {
			return rows, err
		}
	}
}

// TestPacked: what is packed by another's program is read, and archives of several files, or cut anywhere, are refused.
func TestPacked(t *testing.T) {
	const text = "time_ms,lamp\n0.500,0\n2.125,1\n5.250,0\n7.000,1\n"
	packed, err := base64.StdEncoding.DecodeString("QlpoOTFBWSZTWTsa5zwAABZbgAAQAAVygAAAoiZMACAAMUNNMABFPyp+oelMGpxWAEYHZlJwCGTKgJm/oJ1ztOqq0P8XckU4UJA7Guc8") // by bzip2 1.0.8
	if err != nil {
		t.Fatal(err)
	}
	plain, err := unpacked([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"bzip2": packed, "zip": zipOf(t, "a.csv", text), "tar": tarOf(t, "a.csv", text), "gzip": zip(t, []byte(text))} {
		if got, err := unpacked(b); err != nil || got != plain {
			t.Errorf("%s: %s, %v; plain %s", name, got, err, plain)
		}
		whole := len(b)
		if name == "tar" {
			whole = 512 + len(text) // zeros follow
		}
		for n := 1; n < whole; n++ {
			if got, err := unpacked(b[:n]); err == nil {
				t.Errorf("%s cut at %d of %d bytes passes: %s", name, n, len(b), got)
				break
			}
		}
	}
	for _, b := range [][]byte{zipOf(t, "a.csv", text, "b.csv", text), tarOf(t, "a.csv", text, "b.csv", text)} {
		_, err := unpacked(b)
		if err == nil || !strings.Contains(err.Error(), "several files, a.csv, b.csv") {
			t.Errorf("an archive of two files: %v", err)
		}
	}
}

func toUTF16(s string, big bool) []byte {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		if big {
			b = append(b, byte(u>>8), byte(u))
		} else {
			b = append(b, byte(u), byte(u>>8))
		}
	}
	return b
}

func zip(t *testing.T, text []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write(text); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// quote puts quotes round every cell.
func quote(t *testing.T, text []byte) []byte {
	delim := ","
	for _, d := range []string{"\t", ";"} {
		if first, _, _ := bytes.Cut(text, []byte("\n")); bytes.Contains(first, []byte(d)) && !bytes.HasPrefix(first, []byte(d)) {
			delim = d
		}
	}
	var out []string
	for line := range strings.SplitSeq(string(text), "\n") {
		cells := strings.Split(line, delim)
		for i, c := range cells {
			if c != "" && !strings.ContainsAny(c, `"#`) {
				cells[i] = `"` + c + `"`
			}
		}
		out = append(out, strings.Join(cells, delim))
	}
	return []byte(strings.Join(out, "\n"))
}

// TestStorage: each capture reads the same however it is stored.
func TestStorage(t *testing.T) {
	for _, file := range miniatures(t) {
		name, text := captureOf(t, file)
		text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
		for _, s := range storages {
			if s.name == "quoted cells" && strings.HasSuffix(name, ".txt") || s.name == "quoted cells" && strings.Contains(name, "comma_in") {
				continue // running text and a cut decimal comma have no cells to quote
			}
			if s.name == "UTF-16 without a mark" && bytes.ContainsFunc(text, func(r rune) bool { return r > 127 }) {
				continue // without a mark only plain ASCII can be told
			}
			t.Run(name+"/"+s.name, func(t *testing.T) {
				w := readWant(t, file)
				checkCapture(t, name, s.store(t, text), w)
			})
		}
	}
}

// TestCutAnywhere: the stream may reach the reader in any portions.
func TestCutAnywhere(t *testing.T) {
	for _, file := range miniatures(t) {
		name, text := captureOf(t, file)
		w := readWant(t, file)
		whole := describe(t, name, bytes.NewReader(text), w.options)
		for how, r := range map[string]io.Reader{
			"one byte at a time": iotest.OneByteReader(bytes.NewReader(text)),
			"halves":             iotest.HalfReader(bytes.NewReader(text)),
			"end with data":      iotest.DataErrReader(bytes.NewReader(text)),
		} {
			if got := describe(t, name, r, w.options); got != whole {
				t.Errorf("%s, %s:\n%s\nexpected\n%s", name, how, got, whole)
			}
		}
	}
}

// TestLongStreamInAnyPortions does the same with an input of many chunks, read by several workers.
func TestLongStreamInAnyPortions(t *testing.T) {
	sig := acquiretest.Astable(3.95e-3, 3.26e-3, 100)
	var b bytes.Buffer
	if err := acquiretest.TimeVolt(&b, sig, acquiretest.Form{Step: 5e-6, Time: "%.7e", Level: "%.6e"}); err != nil {
		t.Fatal(err)
	}
	text := b.Bytes()
	if len(text) < 8*256<<10/2 {
		t.Fatalf("only %d bytes", len(text))
	}
	whole := describe(t, "x", bytes.NewReader(text), acquire.Options{})
	for how, r := range map[string]io.Reader{
		"halves": iotest.HalfReader(bytes.NewReader(text)),
		"gzip":   bytes.NewReader(zip(t, text)),
		"CRLF":   bytes.NewReader(bytes.ReplaceAll(text, []byte("\n"), []byte("\r\n"))),
		"UTF-16": bytes.NewReader(toUTF16("\ufeff"+string(text), true)),
	} {
		if got := describe(t, "x", r, acquire.Options{}); got != whole {
			t.Errorf("%s differs: %s\nexpected %s", how, got[:300], whole[:300])
		}
	}
}

func TestStandardInputAndFile(t *testing.T) {
	path := filepath.Join(captures, "s17_transitions.csv")
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	old := os.Stdin
	os.Stdin = f
	defer func() { os.Stdin = old }()
	opt := acquire.Options{Channels: []string{"1"}}
	a, err := open.Open("-", opt)
	if err != nil {
		t.Fatal(err)
	}
	b, err := open.Open(path, opt)
	if err != nil {
		t.Fatal(err)
	}
	ca, ra := readAll(t, a)
	_, rb := readAll(t, b)
	if ca[0].Source != "-" || len(ra[0]) != 5 || len(rb[0]) != 5 {
		t.Errorf("standard input %q with %d rows, file with %d", ca[0].Source, len(ra[0]), len(rb[0]))
	}
	if err := errors.Join(a.Close(), b.Close()); err != nil {
		t.Error(err)
	}
}
