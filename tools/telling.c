#include "tools/telling.h"

int telling(const struct choice *o, const char *list,
	    void (*tell)(struct teller *t, const void *what), const void *what)
{
	return o->json	   ? tell_json(stdout, tell, what)
	       : o->csv	   ? tell_csv(stdout, list, tell, what)
	       : o->fields ? tell_fields(stdout, tell, what)
			   : 1;
}
