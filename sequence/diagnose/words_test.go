package diagnose

import (
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// inWords says facts in English, from the catalogue itself: the package that words them
// imports this one.
func inWords(t *testing.T, facts ...Said) string {
	t.Helper()
	text := map[string]string{}
	for _, part := range []string{"facts", "counts", "diagnosis"} {
		raw, err := os.ReadFile("../wording/text/" + part + ".en.json")
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(raw, &text))
	}
	place := regexp.MustCompile(`\{(\d)(?: (\w+))?\}`)
	var out []string
	for _, s := range facts {
		require.Contains(t, text, string(s.Code))
		out = append(out, place.ReplaceAllStringFunc(text[string(s.Code)], func(at string) string {
			found := place.FindStringSubmatch(at)
			arg := s.Args[found[1][0]-'0']
			number := map[bool]string{true: "one", false: "other"}[arg == "1"]
			for _, form := range []string{"form." + found[2] + "." + arg, "form." + found[2], "form." + found[2] + "." + number} {
				if text[form] != "" {
					return strings.ReplaceAll(text[form], "{0}", arg)
				}
			}
			return arg
		}))
	}
	return strings.Join(out, " ")
}
