package main

import (
	"os"
	"sync"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// axeScript is axe-core, which finds what keeps people from using a page.
var axeScript = sync.OnceValues(func() ([]byte, error) { return os.ReadFile("testdata/axe-core/axe.min.js") })

// accessible expects axe-core to find nothing on the page as it is now.
func (t *tab) accessible(where string) {
	t.Helper()
	script, err := axeScript()
	require.NoError(t, err)
	_, err = chromedp.Run(t.ctx, chromedp.Evaluate[bool](string(script)+";true"))
	require.NoError(t, err)
	found, err := chromedp.Run(t.ctx, chromedp.Evaluate[string](`axe.run().then(r => {
		if (r.passes.length < 10) return 'axe looked at nothing';
		return r.violations.map(v => v.id + ': ' + v.help + '\n' + v.nodes.map(n => '  ' + n.html.slice(0, 160)).join('\n')).join('\n');
	})`, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	assert.Empty(t, found, where)
}
