package report

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// browser drives a headless Chromium over the WebDriver protocol (W3C WebDriver; "goog/cdp" is Chromium's own
// addition for what the standard lacks: the size of a small screen, dark mode, paper sizes).
type browser struct {
	t    *testing.T
	base string
}

// newBrowser starts one, or skips the test where Chromium and its driver are not installed.
func newBrowser(t *testing.T) *browser {
	t.Helper()
	driver, err := exec.LookPath("chromedriver")
	if err != nil {
		t.Skip("chromedriver is not installed: the page is not looked at in a browser")
	}
	binary := ""
	for _, name := range []string{"chromium", "chromium-browser"} {
		if p, err := exec.LookPath(name); err == nil {
			binary = p
		}
	}
	if binary == "" {
		t.Skip("Chromium is not installed: the page is not looked at in a browser")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Skip("no port to drive a browser on: ", err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	cmd := exec.Command(driver, fmt.Sprintf("--port=%d", port))
	if err := cmd.Start(); err != nil {
		t.Skip("chromedriver does not start: ", err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	b := &browser{t, fmt.Sprintf("http://127.0.0.1:%d", port)}
	for i := 0; ; i++ {
		if r, err := http.Get(b.base + "/status"); err == nil {
			r.Body.Close()
			break
		}
		if i == 100 {
			t.Fatal("chromedriver does not answer")
		}
		time.Sleep(100 * time.Millisecond)
	}
	var session struct{ SessionID string }
	b.post("/session", map[string]any{"capabilities": map[string]any{"alwaysMatch": map[string]any{
		"browserName":       "chrome",
		"goog:loggingPrefs": map[string]string{"browser": "ALL", "performance": "ALL"},
		"goog:chromeOptions": map[string]any{"binary": binary, "args": []string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
			"--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars", "--user-data-dir=" + t.TempDir()}},
	}}}, &session)
	b.base += "/session/" + session.SessionID
	t.Cleanup(func() {
		if r, err := http.NewRequest("DELETE", b.base, nil); err == nil {
			if r, err := http.DefaultClient.Do(r); err == nil {
				r.Body.Close()
			}
		}
	})
	return b
}

// post sends a command and decodes the value it gives.
func (b *browser) post(path string, body, value any) {
	b.t.Helper()
	j, err := json.Marshal(body)
	if err != nil {
		b.t.Fatal(err)
	}
	r, err := http.Post(b.base+path, "application/json", bytes.NewReader(j))
	if err != nil {
		b.t.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	if r.StatusCode != http.StatusOK {
		b.t.Fatalf("%s: %s", path, text)
	}
	out := struct{ Value any }{value}
	if err := json.Unmarshal(text, &out); err != nil {
		b.t.Fatalf("%s: %v in %s", path, err, text)
	}
}

func (b *browser) cdp(cmd string, params map[string]any, value any) {
	b.t.Helper()
	b.post("/goog/cdp/execute", map[string]any{"cmd": cmd, "params": params}, value)
}

// screen sets the width in CSS pixels and the colour scheme.
func (b *browser) screen(width int, scheme string) {
	b.t.Helper()
	b.cdp("Emulation.setDeviceMetricsOverride", map[string]any{"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false}, nil)
	b.cdp("Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": scheme}}}, nil)
}

func (b *browser) open(path string) {
	b.t.Helper()
	b.post("/url", map[string]string{"url": "file://" + path}, nil)
}

// run executes a script in the page and decodes what it returns.
func (b *browser) run(script string, value any) {
	b.t.Helper()
	b.post("/execute/sync", map[string]any{"script": script, "args": []any{}}, value)
}

type logEntry struct{ Level, Message string }

func (b *browser) log(kind string) []logEntry {
	b.t.Helper()
	var out []logEntry
	b.post("/se/log", map[string]string{"type": kind}, &out)
	return out
}

// asked lists what a page has asked the network for, itself and data in it left out.
func (b *browser) asked(page string) []string {
	b.t.Helper()
	var out []string
	for _, e := range b.log("performance") {
		var m struct {
			Message struct {
				Method string
				Params struct {
					DocumentURL string
					Request     struct{ URL string }
				}
			}
		}
		if err := json.Unmarshal([]byte(e.Message), &m); err != nil {
			b.t.Fatal(err)
		}
		url := m.Message.Params.Request.URL
		if m.Message.Method == "Network.requestWillBeSent" && strings.HasPrefix(m.Message.Params.DocumentURL, page) && url != page && !strings.HasPrefix(url, "data:") {
			out = append(out, url)
		}
	}
	return out
}

// picture takes the whole page as it looks now.
func (b *browser) picture(file string) {
	b.t.Helper()
	var shot struct{ Data string }
	b.cdp("Page.captureScreenshot", map[string]any{"captureBeyondViewport": true, "format": "png"}, &shot)
	b.save(file, shot.Data)
}

func (b *browser) save(file, data string) []byte {
	b.t.Helper()
	raw, err := base64.StdEncoding.DecodeString(data)
	if err != nil {
		b.t.Fatal(err)
	}
	if file != "" {
		if err := os.WriteFile(file, raw, 0o644); err != nil {
			b.t.Fatal(err)
		}
	}
	return raw
}

// paper prints on a paper of that size in inches and returns the number of pages.
func (b *browser) paper(width, height float64, file string) int {
	b.t.Helper()
	var pdf struct{ Data string }
	b.cdp("Page.printToPDF", map[string]any{"paperWidth": width, "paperHeight": height, "printBackground": false}, &pdf)
	return len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(b.save(file, pdf.Data), -1))
}

// layoutFaults lists what is wrong with the page as it is laid out: all the checks that need a real layout.
const layoutFaults = `
const out = [];
const r = e => e.getBoundingClientRect();
const meet = (a, b, s) => a.left < b.right - s && b.left < a.right - s && a.top < b.bottom - s && b.top < a.bottom - s;
if (document.documentElement.scrollWidth > innerWidth) out.push("the page is " + document.documentElement.scrollWidth + " px wide on a screen of " + innerWidth);
const figures = [...document.querySelectorAll("figure")];
const pictures = [...document.querySelectorAll("svg.picture")];
if (pictures.length == 0 && !document.querySelector("#latch")) out.push("no pictures"); // a truth table needs none
if (pictures.length != figures.length) out.push("pictures outside figures");
figures.forEach((f, i) => figures.slice(i + 1).forEach(g => { if (meet(r(f), r(g), 1)) out.push("figures overlap: " + f.innerText.slice(0, 30) + " / " + g.innerText.slice(0, 30)); }));
for (const f of figures) {
  if (f.querySelector("figcaption").innerText.length < 40) out.push("caption says too little");
  for (const t of document.querySelectorAll("table, ul, h2, .finding")) if (meet(r(f), r(t), 1)) out.push("text over a figure: " + t.innerText.slice(0, 30));
}
for (const p of pictures) {
  const name = p.querySelector("title").textContent, b = r(p);
  if (b.width < 200 || b.height < 60) out.push(name + ": drawn " + b.width + " by " + b.height);
  if (p.querySelector("desc").textContent.length < 40) out.push(name + ": no description");
  const drawn = [...p.querySelectorAll("path, line, rect, circle")].filter(e => { const q = e.getBBox(), s = getComputedStyle(e); return (q.width > 0 || q.height > 0) && (s.stroke != "none" || s.fill != "none"); });
  if (drawn.length < 4) out.push(name + ": only " + drawn.length + " things drawn");
  const texts = [...p.querySelectorAll("text")];
  const scale = b.width / p.viewBox.baseVal.width;
  texts.forEach((t, i) => {
    const q = r(t), size = parseFloat(getComputedStyle(t).fontSize) * scale;
    if (size < 10) out.push(name + ": text of " + size.toFixed(1) + " px: " + t.textContent);
    if (q.left < b.left - 1 || q.right > b.right + 1 || q.top < b.top - 2 || q.bottom > b.bottom + 2) out.push(name + ": text leaves the picture: " + t.textContent);
    texts.slice(i + 1).forEach(u => { if (meet(q, r(u), 1.5)) out.push(name + ": texts overlap: " + t.textContent + " / " + u.textContent); });
  });
}
for (const e of document.querySelectorAll("p, li, td, th, figcaption, caption")) if (parseFloat(getComputedStyle(e).fontSize) < 12) out.push("small text: " + e.innerText.slice(0, 30));
return out;`

// contrast lists texts that stand out less than WCAG 2.1 asks (1.4.3: 4.5 to 1), against the page's ground.
const contrast = `
const lum = c => { const v = c.match(/[\d.]+/g).slice(0, 3).map(x => { x /= 255; return x <= 0.03928 ? x / 12.92 : Math.pow((x + 0.055) / 1.055, 2.4); }); return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2]; };
const ground = lum(getComputedStyle(document.body).backgroundColor);
const out = new Set();
for (const e of document.querySelectorAll("p, li, td, th, figcaption, caption, h1, h2, svg.picture text")) {
  const s = getComputedStyle(e), c = s[e.ownerSVGElement ? "fill" : "color"], l = lum(c);
  const ratio = (Math.max(l, ground) + 0.05) / (Math.min(l, ground) + 0.05);
  if (ratio < 4.5) out.add(ratio.toFixed(2) + " " + c + " " + e.textContent.slice(0, 30));
}
return [...out];`

// papers in inches.
var papers = map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}}

// TestInBrowser looks at every kind of page as a reader would. OFFBEAT_PAGES names a folder to keep what was
// seen in.
func TestInBrowser(t *testing.T) {
	b := newBrowser(t)
	dir, keep := os.Getenv("OFFBEAT_PAGES"), true
	if dir == "" {
		dir, keep = t.TempDir(), false
	}
	file := func(parts ...string) string {
		if !keep {
			return ""
		}
		return filepath.Join(dir, strings.Join(parts, "-"))
	}
	for name, p := range pages(t) {
		path := filepath.Join(dir, name+".html")
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := HTML(f, p); err != nil {
			t.Fatal(err)
		}
		f.Close()
		for _, width := range []int{360, 1280} {
			for _, scheme := range []string{"light", "dark"} {
				if !keep && (width == 360) != (scheme == "light") {
					continue // colours do not depend on the width: one of each will do
				}
				b.screen(width, scheme)
				b.open(path)
				var wrong, faint []string
				b.run(layoutFaults, &wrong)
				b.run(contrast, &faint)
				for _, w := range append(wrong, faint...) {
					t.Errorf("%s, %d px, %s: %s", name, width, scheme, w)
				}
				if keep {
					b.picture(file(name, fmt.Sprint(width), scheme+".png"))
				}
			}
		}
		for paper, size := range papers {
			if n := b.paper(size[0], size[1], file(name, paper+".pdf")); n < 1 || n > 3 {
				t.Errorf("%s prints on %d pages of %s, want at most 3", name, n, paper)
			}
		}
		for _, e := range b.log("browser") {
			t.Errorf("%s: console says %s: %s", name, e.Level, e.Message)
		}
		for _, url := range b.asked("file://" + path) {
			t.Errorf("%s asks for %s", name, url)
		}
	}
}
