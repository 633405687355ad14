package netlist

import (
	"bytes"
	"encoding/binary"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// plain is the text of a netlist as UTF-8: UTF-16 by its mark, else Latin-1 where it is not UTF-8.
func plain(b []byte) string {
	for _, o := range []struct {
		mark  string
		order binary.ByteOrder
	}{{"\xff\xfe", binary.LittleEndian}, {"\xfe\xff", binary.BigEndian}} {
		if rest, ok := bytes.CutPrefix(b, []byte(o.mark)); ok {
			units := make([]uint16, len(rest)/2)
			for i := range units {
				units[i] = o.order.Uint16(rest[2*i:])
			}
			return string(utf16.Decode(units))
		}
	}
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	if utf8.Valid(b) {
		return string(b)
	}
	r := make([]rune, len(b))
	for i, c := range b {
		r[i] = rune(c)
	}
	return string(r)
}

// line is a card with the lines that continue it.
type line struct {
	text   string
	number int    // of its first line, from 1
	remark string // the comment line above it, if any
}

// join drops comments and blank lines and joins what "+" continues; the title is kept as it is.
func join(text string) []line {
	var out []line
	remark := ""
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	for i, s := range strings.Split(text, "\n") {
		if i == 0 {
			out = append(out, line{text: s, number: 1})
			continue
		}
		s, _, _ = strings.Cut(s, ";")
		if k := strings.Index(s, "$"); k == 0 || k > 0 && (s[k-1] == ' ' || s[k-1] == '\t') {
			s = s[:k]
		}
		trimmed := strings.TrimSpace(s)
		switch {
		case trimmed == "":
		case trimmed[0] == '*':
			remark = trimmed[1:]
		case trimmed[0] == '+' && len(out) > 1:
			out[len(out)-1].text += " " + trimmed[1:]
		default:
			out = append(out, line{s, i + 1, remark})
			remark = ""
		}
	}
	return out
}

// fields splits a card at blanks, commas and parentheses; "=" keeps its two sides in one field.
func fields(s string) []string {
	s = strings.NewReplacer(",", " ", "(", " ", ")", " ").Replace(s)
	var out []string
	for _, f := range strings.Fields(s) {
		switch last := len(out) - 1; {
		case last >= 0 && (f[0] == '=' || strings.HasSuffix(out[last], "=")):
			out[last] += f
		default:
			out = append(out, f)
		}
	}
	return out
}
