package open

import (
	"bytes"
	"unicode/utf8"

	"offbeat/acquire"
)

// foreignFile is what people hand over by mistake: how it begins, what it is, what to do instead.
type foreignFile struct{ begins, is, do string }

const (
	exportCSV  = "export the capture's samples as CSV"
	decompress = "decompress it, or compress it with gzip"
)

// binaryFiles are told by their first bytes.
var binaryFiles = []foreignFile{
	{"PK\x03\x04", "a spreadsheet's own format", "save as CSV (comma separated text)"},
	{"\xd0\xcf\x11\xe0", "a spreadsheet's own (older) format", "save as CSV (comma separated text)"},
	{"%PDF", "a PDF document", exportCSV},
	{"\x89PNG", "a picture", exportCSV},
	{"\xff\xd8\xff", "a picture", exportCSV},
	{"GIF8", "a picture", exportCSV},
	{"BM", "a picture", exportCSV}, // with zero bytes: see foreign
	{"BZh", "data compressed with bzip2", decompress},
	{"\xfd7zXZ", "data compressed with xz", decompress},
	{"\x28\xb5\x2f\xfd", "data compressed with zstd", decompress},
	{"7z\xbc\xaf", "a 7z archive", "unpack the archive first"},
	{"\x89HDF", "a binary data container", exportCSV},
	{"\x7fELF", "a program", exportCSV},
}

// textFiles are told by their first letters, in lower case, blanks left out.
var textFiles = []foreignFile{
	{"<!doctype", "a web page", "download the file itself, not the page about it"},
	{"<html", "a web page", "download the file itself, not the page about it"},
	{"<?xml", "an XML document", exportCSV},
	{"<svg", "a drawing", exportCSV},
	{"{\"", "a JSON document", exportCSV},
	{"{\n", "a JSON document", exportCSV},
	{"[{", "a JSON document", exportCSV},
	{"[[", "a JSON document", exportCSV},
	{"[\n", "a JSON document", exportCSV},
	{"{\\rtf", "a word processor's document", exportCSV},
	{"%!ps", "a PostScript document", exportCSV},
}

const wantText = "a text export with rows of time and level"

// notText explains input that can't be a text export, by its first bytes; nil if it may be one.
func notText(name string, lead []byte) error {
	fail := func(f foreignFile) error {
		return &acquire.Error{File: name, What: "this looks like " + f.is, Expect: wantText, Do: f.do, Err: acquire.ErrShape}
	}
	text := bytes.ToLower(bytes.TrimLeft(bytes.TrimPrefix(lead, []byte(utf8Mark)), " \t\r\n"))
	if len(text) == 0 {
		return &acquire.Error{File: name, What: "the file is empty", Expect: wantText, Do: "export the capture again", Err: acquire.ErrEmpty}
	}
	if order, _ := utf16Order(lead); order >= 0 {
		return nil
	}
	zero := bytes.IndexByte(lead, 0) >= 0
	for _, f := range binaryFiles {
		if bytes.HasPrefix(lead, []byte(f.begins)) && (f.begins != "BM" || zero) {
			return fail(f)
		}
	}
	for _, f := range textFiles {
		if bytes.HasPrefix(text, []byte(f.begins)) {
			return fail(f)
		}
	}
	if looksBinary(lead) {
		return fail(foreignFile{is: "binary data", do: exportCSV})
	}
	return nil
}

// looksBinary counts bytes that no text export holds; a letter or two of an old code page may be among them.
func looksBinary(b []byte) bool {
	control, bad := 0, 0
	for _, c := range b {
		if c == 0 || c < 0x20 && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != 0x1a && c != 0x1b {
			control++
		}
	}
	for i := 0; i < len(b); {
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 {
			bad++
		}
		i += n
	}
	return control*20 > len(b) || bad*5 > len(b)
}

// utf8Mark is the byte-order mark of UTF-8.
const utf8Mark = "\xef\xbb\xbf"

// utf16Order tells UTF-16 by its mark, or by every other byte being zero in a text that is mostly ASCII:
// 0 little-endian, 1 big-endian, -1 neither.
func utf16Order(b []byte) (order int, mark bool) {
	switch {
	case bytes.HasPrefix(b, []byte{0xff, 0xfe}):
		return 0, true
	case bytes.HasPrefix(b, []byte{0xfe, 0xff}):
		return 1, true
	}
	var zero [2]int
	for i, c := range b {
		if c == 0 {
			zero[i&1]++
		}
	}
	half := len(b) / 2
	switch {
	case half >= 4 && zero[1] > half*9/10 && zero[0] == 0:
		return 0, false
	case half >= 4 && zero[0] > half*9/10 && zero[1] == 0:
		return 1, false
	}
	return -1, false
}
