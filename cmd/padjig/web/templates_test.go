package web_test

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/webtest"
)

// Templates are parsed when a page is shown first: here all are, by several at once as when pages are asked for, in a site
// that showed none before. The texts make it one of its own.
func TestEveryTemplateCanBeParsed(t *testing.T) {
	_, _, store := webtest.Door(t)
	site, err := web.New(web.Config{Store: store, Hosts: []string{webtest.OurHost}, Texts: webtest.Pseudo(t)})
	require.NoError(t, err)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			n, err := site.Parse()
			assert.NoError(t, err)
			assert.Greater(t, n, 100)
		})
	}
	all.Wait()
}
