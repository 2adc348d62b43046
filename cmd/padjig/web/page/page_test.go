package page

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Addresses to go to afterwards stay on this site.
func TestHere(t *testing.T) {
	for given, want := range map[string]string{
		"/lane/1": "/lane/1", "/a?b=c": "/a?b=c", "": "/", "https://evil.example/x": "/x", "//evil.example": "/", `/\evil.example`: "/", "javascript:alert(1)": "/",
	} {
		assert.Equal(t, want, Here(given), given)
	}
}

func TestArgumentsAndNumbers(t *testing.T) {
	c := Catalogue{"en": {"a": "{1} after {0}"}, "de": {}}
	assert.Equal(t, "y after x", c.Say("en", "a", "x", "y"))
	assert.Equal(t, "y after x", c.Say("de", "a", "x", "y"), "what a language lacks is said in the first")
	assert.Equal(t, "⟦b⟧", c.Say("en", "b"))
	assert.Equal(t, "1,50", In("de", c).Num(2, 1.5))
	assert.Equal(t, "−1.5", In("en", c).Num(1, -1.5))
	for header, want := range map[string]string{"": "en", "fr, de;q=0.8": "de", "de-AT": "de", "en-GB,de": "en", "x": "en"} {
		assert.Equal(t, want, Choose(c, header), header)
	}
}
