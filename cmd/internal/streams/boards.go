package streams

import "fmt"

// Boards takes how many boards of a lot are done. A nil Progress says nothing.
func (p *Progress) Boards(done, total int) {
	if p == nil {
		return
	}
	now := p.s.Now()
	if now.Sub(p.start) < patience || now.Sub(p.told) < interval {
		return
	}
	p.told = now
	text := fmt.Sprintf("%s: %d of %d boards", p.name, done, total)
	if left := p.left(done, total); left != "" {
		text += ", " + left
	}
	fmt.Fprintf(p.s.Err, "\r%-*s", p.shown, text)
	p.shown = max(p.shown, len(text))
}

// left guesses how long the rest will take, once that can be told.
func (p *Progress) left(done, total int) string {
	if done < 10 {
		return ""
	}
	rest := p.s.Now().Sub(p.start).Seconds() / float64(done) * float64(total-done)
	if rest < 60 {
		return fmt.Sprintf("about %.0f s left", rest)
	}
	return fmt.Sprintf("about %.0f min left", rest/60)
}
