package open

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/bzip2"
	"compress/gzip"
	"fmt"
	"io"
	"path"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/read"
)

const (
	packings   = 3         // one inside the other, at most: a gzipped tar archive of a gzipped capture
	zipLargest = 512 << 20 // bytes of a zip archive, whose list of files stands at its end: it is held as a whole
	tarMark    = 257       // where "ustar" stands (POSIX.1-1988)
	namesFew   = 5         // files of an archive that a message names
)

// unpack undoes compression and archives of one file, and returns the first bytes of what is inside, and all of it.
func unpack(name string, r io.Reader) (lead []byte, all io.Reader, how []string, err error) {
	for range packings + 1 {
		if lead, all, err = peek(r, 4096); err != nil {
			return nil, nil, nil, read.Fault(name, err)
		}
		packed := &counted{r: all}
		var in io.Reader
		var as string
		switch {
		case bytes.HasPrefix(lead, []byte{0x1f, 0x8b}):
			as = "compressed with gzip"
			in, err = gzip.NewReader(packed)
		case bytes.HasPrefix(lead, []byte("BZh")) && len(lead) > 10 && string(lead[4:10]) == "1AY&SY":
			as, in = "compressed with bzip2", bzip2.NewReader(packed)
		case bytes.HasPrefix(lead, []byte("PK\x03\x04")):
			as = "the one file of a zip archive"
			in, err = zipped(name, packed)
		case len(lead) > tarMark+5 && string(lead[tarMark:tarMark+5]) == "ustar":
			as = "the one file of a tar archive"
			in, err = tarred(name, packed)
		default:
			return lead, all, how, nil
		}
		if err != nil {
			return nil, nil, nil, read.Fault(name, err)
		}
		r, how = &inflated{name: name, z: in, packed: packed}, append(how, as)
	}
	return lead, all, how, nil
}

// zipped is the one file of a zip archive.
func zipped(name string, r io.Reader) (io.Reader, error) {
	all, err := io.ReadAll(io.LimitReader(r, zipLargest+1))
	if err != nil {
		return nil, err
	}
	if len(all) > zipLargest {
		return nil, &acquire.Error{File: name, What: fmt.Sprintf("the zip archive is larger than %d MB", zipLargest>>20), Expect: "a smaller one", Do: "unpack it and give the capture", Err: acquire.ErrShape}
	}
	if lead := all[:min(len(all), 4096)]; bytes.Contains(lead, []byte("[Content_Types].xml")) || len(lead) > 38 && string(lead[30:38]) == "mimetype" {
		return nil, notText(name, lead) // a document's parts
	}
	z, err := zip.NewReader(bytes.NewReader(all), int64(len(all)))
	if err != nil {
		return nil, err
	}
	var names []string
	var one *zip.File
	for _, f := range z.File {
		if !f.FileInfo().IsDir() && !aside(f.Name) {
			names, one = append(names, f.Name), f
		}
	}
	if len(names) != 1 {
		return nil, notOne(name, names)
	}
	return one.Open()
}

// aside: a file that a system puts beside those of its user.
func aside(name string) bool {
	return strings.HasPrefix(path.Base(name), ".") || strings.HasPrefix(name, "__")
}

// tarred is the one file of a tar archive; a second one behind it is an error.
func tarred(name string, r io.Reader) (io.Reader, error) {
	t := &tarReader{name: name, in: tar.NewReader(r)}
	first, err := t.next()
	if err == io.EOF {
		return nil, notOne(name, nil)
	}
	t.first = first
	return t, err
}

type tarReader struct {
	name, first string
	in          *tar.Reader
}

// next finds the next file and gives its name; io.EOF: there is none.
func (t *tarReader) next() (string, error) {
	for {
		h, err := t.in.Next()
		if err != nil {
			return "", err
		}
		if h.Typeflag == tar.TypeReg && !aside(h.Name) {
			return h.Name, nil
		}
	}
}

func (t *tarReader) Read(b []byte) (int, error) {
	n, err := t.in.Read(b)
	if err == io.EOF {
		var more string
		if more, err = t.next(); err == nil {
			err = notOne(t.name, []string{t.first, more})
		}
	}
	return n, err
}

// notOne is the error for an archive of none or several files.
func notOne(archive string, names []string) error {
	e := &acquire.Error{File: archive, What: "the archive holds no file", Expect: "one capture", Do: "pack it again", Err: acquire.ErrShape}
	if len(names) > 0 {
		e.What, e.Do = "the archive holds several files, "+strings.Join(names[:min(len(names), namesFew)], ", "), "unpack it and give one of them"
		if more := len(names) - namesFew; more > 0 {
			e.What += fmt.Sprintf(" and %d more", more)
		}
	}
	return e
}
