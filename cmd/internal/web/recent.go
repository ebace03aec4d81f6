package web

import "sync"

// recent remembers the last values that were made, by a key. Its zero value is
// ready.
type recent[T any] struct {
	mu    sync.Mutex
	known map[string]T
	order []string
}

// mostRecent bounds the memory: the loudness of an hour is some 12 MB.
const mostRecent = 16

func (c *recent[T]) get(key string) (v T, ok bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	v, ok = c.known[key]
	return v, ok
}

func (c *recent[T]) put(key string, v T) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.known == nil {
		c.known = map[string]T{}
	}
	if _, ok := c.known[key]; !ok {
		c.order = append(c.order, key)
	}
	c.known[key] = v
	if len(c.order) > mostRecent {
		delete(c.known, c.order[0])
		c.order = c.order[1:]
	}
}
