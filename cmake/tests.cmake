# Every tests/{unit,published,property}/test_*.c is one test of ctest, named after its file.
pkg_check_modules(CMOCKA REQUIRED IMPORTED_TARGET cmocka)
find_package(Python3 COMPONENTS Interpreter REQUIRED)

set(test_environment "DRYFRONT_SOURCE_DIR=${PROJECT_SOURCE_DIR};CMOCKA_MESSAGE_OUTPUT=STDOUT;OMP_NUM_THREADS=2")
# Leaks inside SUNDIALS or libyaml would be ours too: nothing is suppressed but what tests/leaks.supp gives a reason for.
list(APPEND test_environment "ASAN_OPTIONS=detect_leaks=1:detect_stack_use_after_return=1"
  "LSAN_OPTIONS=suppressions=${PROJECT_SOURCE_DIR}/tests/leaks.supp:print_suppressions=0"
  "UBSAN_OPTIONS=print_stacktrace=1" "TSAN_OPTIONS=halt_on_error=1")

foreach(kind IN ITEMS unit published property)
  file(GLOB test_sources CONFIGURE_DEPENDS "${PROJECT_SOURCE_DIR}/tests/${kind}/test_*.c")
  foreach(source IN LISTS test_sources)
    get_filename_component(file_name "${source}" NAME_WE)
    set(name "${file_name}")
    if(TARGET ${name})
      set(name "${kind}_${file_name}")
    endif()
    add_executable(${name} "${source}")
    set_target_properties(${name} PROPERTIES RUNTIME_OUTPUT_DIRECTORY "${PROJECT_BINARY_DIR}/tests/${kind}"
      OUTPUT_NAME "${file_name}")
    target_include_directories(${name} PRIVATE "${PROJECT_SOURCE_DIR}/src" "${PROJECT_SOURCE_DIR}/tests")
    target_compile_definitions(${name} PRIVATE DRYFRONT_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
    target_link_libraries(${name} PRIVATE dryfront_static dryfront_dependencies PkgConfig::CMOCKA dryfront_flags)
    add_test(NAME ${name} COMMAND ${name} WORKING_DIRECTORY "${PROJECT_SOURCE_DIR}")
    set_tests_properties(${name} PROPERTIES LABELS ${kind} TIMEOUT 600 ENVIRONMENT "${test_environment}")
    if(TARGET dryfront_command)
      add_dependencies(${name} dryfront_command)
      set_property(TEST ${name} APPEND PROPERTY ENVIRONMENT "DRYFRONT_PROGRAM=$<TARGET_FILE:dryfront_command>")
    endif()
  endforeach()
endforeach()

add_test(NAME check_rooms COMMAND Python3::Interpreter "${PROJECT_SOURCE_DIR}/tools/check-rooms.py"
  "${PROJECT_SOURCE_DIR}")
add_test(NAME check_rooms_notices COMMAND Python3::Interpreter "${PROJECT_SOURCE_DIR}/tools/check-rooms.py" --self-test)
add_test(NAME headers_alone COMMAND "${CMAKE_COMMAND}" -DSOURCE=${PROJECT_SOURCE_DIR} -DWORK=${PROJECT_BINARY_DIR}
  -DCC=${CMAKE_C_COMPILER} -DCXX=${CMAKE_CXX_COMPILER} -P "${PROJECT_SOURCE_DIR}/cmake/headers-alone.cmake")
set_tests_properties(check_rooms check_rooms_notices headers_alone PROPERTIES LABELS house)
