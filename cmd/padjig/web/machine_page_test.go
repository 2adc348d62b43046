package web_test

import (
	"flag"
	"net/http/httptest"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web"
)

var writePage = flag.Bool("apipage", false, "write the answers in docs/api.md anew")

var (
	console = regexp.MustCompile("(?s)```console\n(.*?)```")
	ofARun  = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}|\b[0-9a-f]{64}\b`) // different each time
)

// Every example of the page is asked of a real server by curl, and answered as the page says.
func TestExamplesOfThePage(t *testing.T) {
	p := programsAt(t)
	server := httptest.NewUnstartedServer(nil)
	address := server.Listener.Addr().String()
	site, err := web.New(web.Config{Store: p.store, Hosts: []string{address}})
	require.NoError(t, err)
	server.Config.Handler = site.Handler()
	server.Start()
	defer server.Close()
	const place = "../../../docs/api.md"
	page, err := os.ReadFile(place)
	require.NoError(t, err)
	asked := 0
	got := console.ReplaceAllStringFunc(string(page), func(block string) string {
		var out strings.Builder
		out.WriteString("```console\n")
		for line := range strings.SplitSeq(block, "\n") {
			command, is := strings.CutPrefix(line, "$ ")
			if !is {
				continue
			}
			asked++
			c := exec.CommandContext(t.Context(), "sh", "-c", command)
			c.Env = append(os.Environ(), "STATION=http://"+address, "TOKEN="+p.tokens["all"], "no_proxy=*")
			said, err := c.CombinedOutput()
			require.NoError(t, err, "%s\n%s", command, said)
			out.WriteString(line + "\n" + ofARun.ReplaceAllStringFunc(string(said), shown))
		}
		return out.String() + "```"
	})
	assert.GreaterOrEqual(t, asked, 10)
	if *writePage {
		require.NoError(t, os.WriteFile(place, []byte(got), 0o644))
	}
	assert.Equal(t, string(page), got)
}

// shown stands for what differs from run to run.
func shown(id string) string {
	if strings.Contains(id, "-") {
		return "0195557b-6f40-7c4e-a1d2-3b5f7c9e0a12"
	}
	return "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"
}
