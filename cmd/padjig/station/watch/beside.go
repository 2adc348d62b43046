package watch

import "padjig/fixture/caught"

// Beside does something that tells of its progress, while somebody is told of that who cannot hold it up for long: what is told
// waits in line. A panic of the one who is told comes up when it is done.
func Beside[E any](tell func(E), do func(news chan<- E)) {
	news, over := make(chan E, 1024), make(chan error, 1)
	go func() {
		err := caught.Panic(func() {
			for e := range news {
				tell(e)
			}
		})
		for range news { // nobody shows the rest
		}
		over <- err
	}()
	do(news)
	close(news)
	if err := <-over; err != nil {
		panic(err)
	}
}
