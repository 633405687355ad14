package open_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/open"
)

const dumpTop = "$timescale 1 ns $end\n$scope module bench $end\n$var wire 1 ! OUT $end\n$upscope $end\n$enddefinitions $end\n"

// TestDumpTraps: what real dumps do, each with what a careful reader makes of it (IEEE 1364-2005, clause 18). A row is
// "time:state", times in ns, x for unknown.
func TestDumpTraps(t *testing.T) {
	for _, c := range []struct {
		name, text string
		channel    string
		rows       string
		is         error
	}{
		{name: "plain", text: dumpTop + "#0\n0!\n#100\n1!\n#250\n0!\n#300\n", rows: "0:0 100:1 250:0 300:0"},
		{name: "1 no time scale", text: strings.Replace(dumpTop, "$timescale 1 ns $end\n", "", 1) + "#0 0! #1 1!\n", is: acquire.ErrTime},
		{name: "2 a scale of 244 ns", text: strings.Replace(dumpTop, "1 ns", "244 ns", 1) + "#0 0! #10 1! #25 0!\n", rows: "0:0 2440:1 6100:0"},
		{name: "2 no blank, several lines", text: strings.Replace(dumpTop, "1 ns", "\n\t100\n us\n", 1) + "#0 0! #1 1!\n", rows: "0:0 100000:1"},
		{name: "2 picoseconds", text: strings.Replace(dumpTop, "1 ns", "10ps", 1) + "#0 0! #100 1!\n", rows: "0:0 1:1"},
		{name: "3 fractional times", text: dumpTop + "#0.0 0!\n#3.0\n1!\n#40000000000000 0!\n", rows: "0:0 3:1 40000000000000:0"},
		{name: "4 backwards", text: dumpTop + "#4 0!\n#1 1!\n#5 0!\n", is: acquire.ErrTime},
		{name: "5 several words on a line", text: dumpTop + "#0 0! #7 1!\n#9 0!\n", rows: "0:0 7:1 9:0"},
		{name: "6 a blank before the code", text: dumpTop + "#0\n0 !\n#3\n1 !\n", rows: "0:0 3:1"},
		{name: "7 CR LF, an unknown section, cut off", text: strings.ReplaceAll(strings.Replace(dumpTop, "$scope", "$crash happened\n$scope", 1)+"#0 0!\n#5 1!\n$dumpall\n1!\n", "\n", "\r\n"), rows: "0:0 5:1"},
		{name: "7 cut in a word", text: dumpTop + "#0 0!\n#50 1!\n#12", rows: "0:0 50:1"},
		{name: "8 a scope without a name", text: strings.Replace(dumpTop, "module bench $end", "module  $end", 1) + "#0 0! #3 1!\n", rows: "0:0 3:1"},
		{name: "9 a long code", text: strings.ReplaceAll(dumpTop, " ! ", " LOG_EVENT_OF_THE_PIER_LAMP ") + "#0 0LOG_EVENT_OF_THE_PIER_LAMP #3 1LOG_EVENT_OF_THE_PIER_LAMP\n", rows: "0:0 3:1"},
		{name: "9 codes of a few letters", text: strings.ReplaceAll(dumpTop, "$var wire 1 ! OUT $end", "$var wire 1 aaa OUT $end $var wire 1 ch1 IN $end $var wire 1 0 PIN $end") + "#0 0aaa 1ch1 00 #3 1aaa 10\n#5 0aaa\n", channel: "OUT", rows: "0:0 3:1 5:0"},
		{name: "9 a code that is a digit", text: strings.ReplaceAll(dumpTop, "$var wire 1 ! OUT $end", "$var wire 1 aaa OUT $end $var wire 1 0 PIN $end") + "#0 0aaa 00 #3 1aaa\n#5 10\n", channel: "PIN", rows: "0:0 5:1"},
		{name: "10 two nets in a section on one line", text: strings.ReplaceAll(dumpTop, "$var wire 1 ! OUT $end", "$var wire 1 @ OUT $end $var wire 1 # IN $end") + "#0 0@ 0#\n#4 1#\n#6 $dumpall 0*@ 1*# 0@ 1# $end\n#9 1@\n", channel: "OUT", rows: "0:0 9:1"},
		{name: "10 dump sections", text: strings.ReplaceAll(dumpTop, " ! ", " *@{( ") + "#2000 $dumpvars 0*@{( $end #2010 1*@{( #2020 $dumpall 1*@{( $end\n#2030 $dumpoff x*@{( $end #2050 $dumpon 1*@{( $end #2060 0*@{(\n", rows: "2000:0 2010:1 2030:x 2050:1 2060:0"},
		{name: "11 ranges and escaped names", text: strings.Replace(dumpTop, "$upscope", "$var wire 8 # data [7:0] $end\n$var reg 32 % reg0001[31:0] $end\n$var wire 1 & \\#s1_enable $end\n$upscope", 1) + "#0 b0 # 0& 0!\n#4 b100 #\n#8 b1111 # 1&\n#9 b1 #\n", channel: "data[2]", rows: "0:0 4:1 9:0"},
		{name: "11 an escaped name", text: strings.Replace(dumpTop, "OUT", "\\#s1_enable", 1) + "#0 0! #4 1!\n", channel: "#s1_enable", rows: "0:0 4:1"},
		{name: "12 nine states, strings", text: strings.Replace(dumpTop, "$upscope", "$attrbegin misc 02 a $end\n$var string 0 s text $end\n$upscope", 1) + "#0 U! sHello s #1 L! #2 H! #3 W! #4 -! #5 1!\n", rows: "0:x 1:0 2:1 3:x 5:1"},
		{name: "12 types that are extensions", text: strings.Replace(dumpTop, "$var wire 1 ! OUT $end", "$var logic 1 ! OUT $end $var enum 3 e mode $end", 1) + "#0 b0 e 0! #4 b10 e 1!\n#6 bU e\n", rows: "0:0 4:1 6:1"},
		{name: "13 time zero", text: strings.Replace(dumpTop, "$scope", "$timezero 100 $end\n$scope", 1) + "#0 0! #7 1!\n", rows: "100:0 107:1"},
		{name: "14 steps of 125 ns", text: dumpTop + "#0 0! #125 1! #500 0! #1125 1! #1250 0!\n", rows: "0:0 125:1 500:0 1125:1 1250:0"},
		{name: "15 one net under two names", text: strings.Replace(dumpTop, "$upscope", "$scope module pier $end $var wire 1 ! LAMP $end $upscope $end $upscope", 1) + "#0 0! #3 1!\n", rows: "0:0 3:1"},
		{name: "16 again, and the same value", text: dumpTop + "#0 0! #3 1! #3 1! #4 1! #6 0! #6 1! #8 0!\n", rows: "0:0 3:1 8:0"},
		{name: "nothing before the first change", text: dumpTop + "#5 1! #9 0!\n", rows: "5:1 9:0"},
		{name: "initial values before the first time", text: dumpTop + "$dumpvars 0! $end\n#5 1! #9 0!\n", rows: "5:1 9:0"},
		{name: "x and z", text: dumpTop + "#0 x! #5 1! #9 z! #12 0!\n", rows: "0:x 5:1 9:x 12:0"},
		{name: "a real beside it", text: strings.Replace(dumpTop, "$upscope", "$var real 64 r volt $end\n$upscope", 1) + "#0 r1.5 r 0! #5 1! r-2e3 r\n", rows: "0:0 5:1"},
		{name: "a word that is none", text: dumpTop + "#0 0!\nhm?\n#5 1!\n", is: acquire.ErrSyntax},
		{name: "no such net", text: dumpTop + "#0 0! #1 1!\n", channel: "IN", is: acquire.ErrChoice},
		{name: "only wide nets", text: strings.Replace(dumpTop, "wire 1 !", "wire 4 !", 1) + "#0 b0 ! #1 b1 !\n", is: acquire.ErrChoice},
	} {
		opt := acquire.Options{}
		if c.channel != "" {
			opt.Channels = []string{c.channel}
		}
		if c.is != nil {
			if err := firstError([]byte(c.text), opt); !errors.Is(err, c.is) {
				t.Errorf("%s: %v, expected one that is %q", c.name, err, c.is)
			}
			continue
		}
		s, err := open.OpenReader("x", strings.NewReader(c.text), opt)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		caps, rows := readAll(t, s)
		var got []string
		for _, r := range rows[0] {
			state := "x"
			if !math.IsNaN(r.v[0]) {
				state = fmt.Sprint(r.v[0])
			}
			got = append(got, fmt.Sprintf("%.0f:%s", r.t*1e9, state))
		}
		if line := strings.Join(got, " "); line != c.rows || len(caps) != 1 || caps[0].Kind != acquire.Transitions {
			t.Errorf("%s: %s, expected %s; %d captures", c.name, line, c.rows, len(caps))
		}
		if n := s.Counts(); n.Lines != int64(strings.Count(c.text, "\n"))+int64(min(1, len(c.text)-strings.LastIndexByte(c.text, '\n')-1)) {
			t.Errorf("%s: %+v", c.name, n)
		}
		if c.name[:2] == "14" && !(math.Abs(caps[0].Step-125e-9) <= 1e-18) {
			t.Errorf("%s: step %g", c.name, caps[0].Step)
		}
	}
}
