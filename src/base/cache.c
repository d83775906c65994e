/* What was computed before: values by the bytes that determine them, the least recently used thrown out. */
#include "dryfront/base.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

typedef struct entry {
    struct entry *newer, *older;
    uint64_t hash;
    size_t key_length, size;
    unsigned char bytes[]; /* the value, then the key */
} entry;

struct df_cache {
    pthread_mutex_t lock;
    size_t limit, used; /* bytes */
    size_t hits;
    entry *newest, *oldest;
};

/* FNV-1a over words of eight bytes, folded: it only has to tell keys apart quickly; they are compared in full. */
static uint64_t hash_of(const char *bytes, size_t length) {
    uint64_t hash = 0xcbf29ce484222325u;
    for (size_t i = 0; i < length; i += 8) {
        uint64_t word = 0;
        memcpy(&word, bytes + i, length - i < 8 ? length - i : 8);
        hash = (hash ^ word) * 0x100000001b3u;
        hash ^= hash >> 29;
    }
    return hash;
}

df_status df_cache_create(df_context *ctx, df_cache **cache, size_t limit) {
    df_cache *c = *cache = calloc(1, sizeof *c);
    if (c == NULL || pthread_mutex_init(&c->lock, NULL) != 0) {
        free(c);
        *cache = NULL;
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    c->limit = limit;
    return DF_OK;
}

void df_cache_free(df_cache *c) {
    if (c == NULL)
        return;
    for (entry *e = c->newest; e != NULL;) {
        entry *older = e->older;
        free(e);
        e = older;
    }
    pthread_mutex_destroy(&c->lock);
    free(c);
}

static size_t weight(const entry *e) {
    return sizeof *e + e->size + e->key_length;
}

static void take_out(df_cache *c, entry *e) {
    *(e->newer != NULL ? &e->newer->older : &c->newest) = e->older;
    *(e->older != NULL ? &e->older->newer : &c->oldest) = e->newer;
    c->used -= weight(e);
}

static void put_first(df_cache *c, entry *e) {
    e->newer = NULL;
    e->older = c->newest;
    *(c->newest != NULL ? &c->newest->newer : &c->oldest) = e;
    c->newest = e;
    c->used += weight(e);
}

static entry *find(const df_cache *c, uint64_t hash, const df_text *key, size_t size) {
    for (entry *e = c->newest; e != NULL; e = e->older)
        if (e->hash == hash && e->size == size && e->key_length == key->length &&
            memcmp(e->bytes + size, key->data, key->length) == 0)
            return e;
    return NULL;
}

bool df_cache_get(df_cache *c, void *value, size_t size, const df_text *key) {
    if (c == NULL || key->failed || key->length == 0)
        return false;
    uint64_t hash = hash_of(key->data, key->length);
    pthread_mutex_lock(&c->lock);
    entry *e = find(c, hash, key, size);
    if (e != NULL) {
        memcpy(value, e->bytes, size);
        take_out(c, e);
        put_first(c, e);
        c->hits++;
    }
    pthread_mutex_unlock(&c->lock);
    return e != NULL;
}

size_t df_cache_hits(df_cache *c) {
    if (c == NULL)
        return 0;
    pthread_mutex_lock(&c->lock);
    size_t hits = c->hits;
    pthread_mutex_unlock(&c->lock);
    return hits;
}

void df_cache_put(df_cache *c, const void *value, size_t size, const df_text *key) {
    if (c == NULL || key->failed || key->length == 0 || sizeof(entry) + size + key->length > c->limit)
        return;
    entry *e = malloc(sizeof *e + size + key->length);
    if (e == NULL)
        return;
    e->hash = hash_of(key->data, key->length);
    e->size = size;
    e->key_length = key->length;
    memcpy(e->bytes, value, size);
    memcpy(e->bytes + size, key->data, key->length);
    entry *out = NULL; /* those that go, by `older` */
    pthread_mutex_lock(&c->lock);
    entry *same = find(c, e->hash, key, size); /* another thread was as fast */
    if (same != NULL) {
        take_out(c, same);
        same->older = NULL;
        out = same;
    }
    put_first(c, e);
    while (c->used > c->limit) {
        entry *last = c->oldest;
        take_out(c, last);
        last->older = out;
        out = last;
    }
    pthread_mutex_unlock(&c->lock);
    while (out != NULL) {
        entry *next = out->older;
        free(out);
        out = next;
    }
}
