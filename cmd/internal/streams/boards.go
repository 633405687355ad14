package streams

import "fmt"

// Boards takes how many boards of a lot are done. A nil Progress says nothing.
func (p *Progress) Boards(done, total int) {
	if !p.due() {
		return
	}
	text := fmt.Sprintf("%d of %d boards", done, total)
	if left := p.left(done, total); left != "" {
		text += ", " + left
	}
	p.say(text)
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
