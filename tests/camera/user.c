/* Runs a program as an ordinary user, who may not do everything: user PROGRAM ARGUMENTS... */
#include <grp.h>
#include <stdio.h>
#include <unistd.h>

int main(int count, char **arguments)
{
    if (count < 2)
        return 2;
    if (setgroups(0, NULL) || setgid(1000) || setuid(1000)) {
        perror("user");
        return 1;
    }
    execv(arguments[1], arguments + 1);
    perror(arguments[1]);
    return 1;
}
