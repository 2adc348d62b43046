package lane

import (
	"strings"
	"unicode/utf8"

	"padjig/cmd/padjig/web/page"
)

// A word stands beside its sign in one line up to so many letters, else its parts stand
// one below the other.
const inOneLine = 9

// How many letters in a line the style has a size for.
const fewest, most = 2, 28

// letters is how many letters a word has in its longest line, and whether it takes two.
func letters(word string) (n int, two bool) {
	parts := strings.Fields(word)
	if n = utf8.RuneCountInString(word); n > inOneLine && len(parts) > 1 {
		n, two = 0, true
		for _, part := range parts {
			n = max(n, utf8.RuneCountInString(part))
		}
	}
	return min(max(n, fewest), most), two
}

// soundView is a sound and what it says.
type soundView struct {
	Signal string
	Word   string
}

// Sounds are those that a page can make, in the order in which they are tried.
func (v View) Sounds() []soundView { return v.sounds }

// heard are the sounds with their words.
func heard(w page.Words) (out []soundView) {
	for _, s := range []struct{ signal, key string }{
		{"pass", "word.pass"}, {"fail", "word.fail"}, {"reseat", "word.reseat"}, {"harness", "word.harness good"}, {"look", "sound.look"},
	} {
		out = append(out, soundView{s.signal, w.Say(s.key)})
	}
	return out
}

// small says to a fixture engineer that the screen is too small for what it is to show.
func (p *Pages) small(v *page.Visit) string {
	if !p.screen.TooSmall() || !v.Person.HasRole(page.Engineers) {
		return ""
	}
	return v.Say("lane.small", v.Num(1, p.screen.Distance/1000), v.Num(1, p.screen.Farthest()/1000))
}
